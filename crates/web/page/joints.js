/* Ports in a column and the joints as lines beside it: by pointer and touch a line is
 * pulled from knob to knob; by keyboard each port is a button. */

const LINE_ROOM = 96;
/** How far a line is pulled before letting go parts it, px. */
const PULLED = 24;
/** How near an edge of the window a line is pulled to go beyond it, px. */
const EDGE = 48;

function jointLines(pieces, picked, { choose, pulled, find }) {
  const drawing = document.createElementNS("http://www.w3.org/2000/svg", "svg");
  drawing.setAttribute("class", "lines");
  drawing.setAttribute("aria-hidden", "true");
  const knobs = new Map();
  const list = make("div", { class: "joints" },
    make("ul", { class: "pieces" }, pieces.map((piece) => make("li", { class: piece.in_use ? undefined : "idle" },
      make("h3", {}, piece.name), make("p", { class: "soft" }, piece.in_use ? piece.is : `${piece.is}; on the table`),
      make("ul", {}, piece.ports.map((port) => {
        const knob = make("span", { class: "knob-of-port", "aria-hidden": "true" });
        knobs.set(port.name, knob);
        pullable(knob, port);
        return make("li", { class: "port", "data-of": port.name }, portButton(port, picked, choose), knob);
      }))))),
    drawing);

  /** The middle of a knob, in the drawing. */
  const middle = (name) => {
    const [knob, around] = [knobs.get(name).getBoundingClientRect(), drawing.getBoundingClientRect()];
    return [knob.left + knob.width / 2 - around.left, knob.top + knob.height / 2 - around.top];
  };
  const line = (path, kind) => {
    const one = document.createElementNS("http://www.w3.org/2000/svg", "path");
    one.setAttribute("d", path);
    one.setAttribute("class", kind);
    drawing.append(one);
    return one;
  };
  const bow = ([x, y], [x2, y2], out) => `M${x},${y} C${x + out * 1.3},${y} ${x2 + out * 1.3},${y2} ${x2},${y2}`;
  const draw = () => {
    drawing.replaceChildren();
    const all = pieces.flatMap((piece) => piece.ports).filter((port) => port.on && port.name < port.on)
      .map((port) => ({ ends: [middle(port.name), middle(port.on)], kind: port.loose ? "loose" : "firm" }));
    // Each line bows a little further out than the shorter ones, so that they run beside
    // each other.
    const long = ({ ends: [[, y], [, y2]] }) => Math.abs(y2 - y);
    all.sort((a, b) => long(a) - long(b));
    all.forEach(({ ends, kind }, i) => line(bow(...ends, 18 + (i * (LINE_ROOM - 30)) / all.length), kind));
  };

  function pullable(knob, port) {
    knob.addEventListener("pointerdown", (start) => {
      start.preventDefault();
      knob.setPointerCapture(start.pointerId);
      const from = middle(port.on || port.name);
      const pull = line("", "pulled");
      const at = (event) => {
        const around = drawing.getBoundingClientRect();
        return [event.clientX - around.left, event.clientY - around.top];
      };
      const move = (event) => {
        // Near an edge the page comes along.
        if (event.clientY < EDGE) scrollBy(0, -12);
        else if (event.clientY > innerHeight - EDGE) scrollBy(0, 12);
        const [x, y] = at(event);
        pull.setAttribute("d", `M${from[0]},${from[1]} L${x},${y}`);
      };
      const end = (event) => {
        knob.removeEventListener("pointermove", move);
        const far = Math.hypot(event.clientX - start.clientX, event.clientY - start.clientY) > PULLED;
        const under = document.elementFromPoint(event.clientX, event.clientY);
        const row = under && under.closest("[data-of]");
        if (event.type === "pointercancel" || !far) draw();
        else pulled(port, row ? find(row.dataset.of) : undefined);
      };
      knob.addEventListener("pointermove", move);
      knob.addEventListener("pointerup", end, { once: true });
      knob.addEventListener("pointercancel", end, { once: true });
    });
  }

  new ResizeObserver(() => list.isConnected && draw()).observe(list);
  return { list, draw };
}

function portButton(port, picked, choose) {
  const isPicked = picked && picked.name === port.name;
  const couldGo = picked && picked.fits.includes(port.name);
  const words = port.on ? `on ${port.on}${port.loose ? ", loose" : ""}` : isPicked ? "chosen" : couldGo ? "fits" : "free";
  return button([make("strong", {}, port.word), ` ${words}`], () => choose(port), {
    "data-port": port.name, "aria-pressed": isPicked ? "true" : "false", class: couldGo ? "fits" : undefined,
    title: `${port.name}: ${port.fitting}`,
  });
}
