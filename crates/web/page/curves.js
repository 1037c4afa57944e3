/* The live curves: the clock that lets time pass, and the drawing of each frame. */

const live = {
  canvas: null,
  names: [],
  axes: [],
  now: 0,
  status: "",
  last: 0,
  /** When numbers were brought up to date last, ms. */
  refreshed: 0,
  /** Whether the valve was open last. */
  open: false,
  frame: 0,
  drawn: -1,

  begin(canvas, curveNames) {
    Object.assign(this, { canvas, names: curveNames, axes: [], last: 0, refreshed: 0, drawn: -1 });
    cancelAnimationFrame(this.frame);
    this.frame = requestAnimationFrame((time) => this.tick(time));
    requestAnimationFrame(() => this.draw());
  },

  end() {
    cancelAnimationFrame(this.frame);
    this.canvas = null;
  },

  tick(time) {
    if (!this.canvas || !this.canvas.isConnected && this.names.length > 0) {
      this.end();
      return;
    }
    this.frame = requestAnimationFrame((next) => this.tick(next));
    // A computer that slept must not skip a part of the lesson.
    const passed = this.last ? Math.min((time - this.last) / 1000, 0.25) : 0;
    this.last = time;
    if (!practice.runs || passed <= 0) return;
    const came = engine.advance(passed);
    const { now } = engine.curves();
    this.now = now;
    if (came >= 2 || time - this.refreshed > 250) {
      this.refreshed = time;
      refresh(engine.ask("view"));
    }
    if (time - practice.keptAt > 1000) keepLog();
    // With reduced motion the curves change once in a while, not all the time.
    if (!isStill() || now - this.drawn > 3) this.draw();
  },

  draw() {
    if (!this.canvas || this.names.length === 0) return;
    const { now, window: span, curves } = engine.curves();
    this.drawn = now;
    const panels = this.names.map((name, i) => ({ name, lines: [{ points: curves[i] || [] }] }));
    const from = Math.max(0, now - span);
    drawPanels(this.canvas, panels, from, from + span, this.axes);
    this.hear(curves);
  },

  /** The valve opens where flow turns back. */
  hear(curves) {
    const flow = curves[this.names.findIndex((name) => name.startsWith("flow"))];
    const isOpen = Boolean(flow && flow.length > 0 && flow[flow.length - 1] < 0);
    if (isOpen && !this.open && practice.runs) {
      sound.valve();
      const found = /SpO2 (\d+)/.exec(this.status);
      if (found) sound.saturation(Number(found[1]));
    }
    this.open = isOpen;
  },
};

addEventListener("resize", () => live.draw());
addEventListener("visibilitychange", () => {
  if (document.hidden && practice.lesson) keepLog();
});
addEventListener("keydown", (event) => {
  if (event.key === "F2" && practice.lesson && live.canvas) {
    event.preventDefault();
    readMonitor();
  }
});
