/* A lesson under way: the clock, the log that is kept, and the screen. */

const practice = {
  /** The lesson as it was begun, its acts and words; nothing without a session. */
  lesson: null,
  which: null,
  runs: false,
  speed: 1,
  /** The log as it was kept last, and the time since. */
  log: null,
  file: "",
  record: "",
  keptAt: 0,
  toldCount: 0,
};

/** Begins a lesson, or takes one up from its log. */
function beginPractice({ lesson, seed, log, name }) {
  const begun = engine.ask("begin", { lesson, seed, log, name });
  practice.lesson = begun;
  practice.which = lesson;
  practice.runs = false;
  practice.toldCount = begun.view.view.told.length;
  keepLog();
  return begun;
}

/** Keeps the log: each second, after each act, and when the page is hidden. */
function keepLog() {
  const { log, record, file } = engine.ask("log");
  Object.assign(practice, { log, record, file, keptAt: performance.now() });
  keep.set("session", { which: practice.which, title: practice.lesson.title, log });
}

/** After a failure of the model: a new one, and the session from its log, to the moment
 * that was on the screen. */
function bringBack() {
  if (!practice.lesson) return;
  const log = JSON.parse(practice.log);
  log.ended_at_s = Math.max(log.ended_at_s, live.now);
  engine.put({ ask: "begin", lesson: practice.which, seed: 0, log: JSON.stringify(log) });
  if (practice.runs) engine.put({ ask: "go" });
  say("The model failed and was begun anew; the session goes on.");
}

/** The session that was kept, if there is one and it can be played. */
function takeUp() {
  const kept = keep.get("session");
  if (!kept) return false;
  beginPractice({ lesson: kept.which, seed: 0, log: kept.log });
  return true;
}

function practiseScreen(main, rest) {
  const wrong = make("div", {});
  put(main, [wrong]);
  tried(wrong, () => {
    if (rest.length > 0) {
      beginPractice({ lesson: decodeURIComponent(rest[0]), seed: rest[1] ? Number(rest[1]) : newSeed() });
      history.replaceState(null, "", "#practise");
    } else if (!practice.lesson && !takeUp()) {
      go("learn");
      return;
    }
    layOut(main);
  });
}

const parts = {};

function layOut(main) {
  const { lesson } = practice;
  const seen = engine.ask("view");
  parts.clock = make("span", { class: "clock" });
  parts.go = button("Start the clock", toggleClock, { class: "first" });
  parts.breath = button("One breath on", oneBreath);
  const speeds = choice([["0.25", "a quarter"], ["0.5", "half"], ["1", "as it is"], ["2", "twice"], ["4", "four times"]],
    String(practice.speed), (event) => {
      practice.speed = Number(event.target.value);
    });
  parts.numbers = make("dl", { class: "numbers" });
  parts.controls = make("dl", { class: "numbers" });
  parts.told = make("ol", { class: "told", tabindex: "0", "aria-label": "What was told, the newest last" });
  parts.alert = make("div", {});
  parts.canvas = make("canvas", { class: "curves", role: "img", "aria-label": `Curves: ${lesson.curves.join(", ")}. Read the monitor for numbers.` });
  parts.typed = make("div", {});
  parts.acts = make("div", { class: "acts" });
  parts.asked = make("div", {});
  parts.predict = make("div", {});
  put(main, [
    make("h1", {}, lesson.title),
    make("details", { class: "opening", open: !seen.view.started }, make("summary", {}, "The case"),
      make("div", { class: "prose" }, openingParts(seen.view.opening))),
    make("div", { class: "clockwork" }, parts.go, parts.breath,
      make("label", {}, "Time passes ", speeds),
      button("Read the monitor (F2)", readMonitor), muteButton(),
      button("Save the record", () => {
        keepLog();
        handOver(practice.file, practice.record);
      }),
      button("End and debrief", endPractice)),
    parts.alert,
    parts.predict,
    make("p", { class: "time" }, parts.clock),
    make("div", { class: "bedside" },
      lesson.curves.length > 0 && parts.canvas,
      make("section", { class: "read", "aria-label": "Numbers" }, make("h2", {}, "Read off"), parts.numbers,
        make("h2", {}, "Set"), parts.controls),
      make("section", { class: "notes", "aria-label": "Notes" }, make("h2", {}, "Notes"), parts.told, parts.asked),
      make("section", { class: "do", "aria-label": "Do" }, make("h2", {}, "Do"), parts.typed, parts.acts)),
  ]);
  fill(parts.typed, typedLine());
  fill(parts.acts, actParts(lesson.acts));
  live.begin(parts.canvas, lesson.curves);
  refresh(seen);
}

/** The opening's lines as paragraphs and lists; the caution stands below already. */
function openingParts(text) {
  const lines = text.split("\n").filter((line) => line.trim() !== "");
  const items = lines.filter((line) => line.startsWith("  - "));
  const prose = lines.filter((line) => !line.startsWith("  - ") && line !== shelf.caution);
  return [prose.map((line) => make("p", {}, line)),
    items.length > 0 && make("ul", {}, items.map((line) => make("li", {}, line.slice(4))))];
}

function setRuns(runs) {
  practice.runs = runs;
  parts.go.textContent = runs ? "Pause" : live.now > 0 ? "Go on" : "Start the clock";
  live.last = 0;
}

function toggleClock() {
  if (!practice.runs) {
    refresh(engine.ask("go"));
    const opening = document.querySelector("details.opening");
    if (opening && live.now === 0) opening.open = false;
  }
  setRuns(!practice.runs && !live.over);
  say(practice.runs ? "The clock runs." : "Paused.");
  keepLog();
}

function oneBreath() {
  setRuns(false);
  refresh(engine.ask("next_breath"));
  live.draw();
  keepLog();
  if (!isTold) say(live.status);
}

const readMonitor = () => say(engine.ask("view").status);

/** Whether something new was told in the last refresh, so that the monitor is not. */
let isTold = false;

/** Brings everything but the curves up to date. */
function refresh(seen) {
  const { view } = seen;
  live.now = view.now_s;
  live.over = Boolean(view.ended);
  live.status = seen.status;
  const minutes = Math.floor(view.now_s / 60);
  const seconds = String(Math.floor(view.now_s % 60)).padStart(2, "0");
  parts.clock.textContent = `${minutes}:${seconds} of ${Math.round(view.duration_s / 60)} min` +
    (view.busy_until_s ? `; hands are busy until ${Math.ceil(view.busy_until_s)} s` : "");
  fillNumbers(parts.numbers, view.numbers);
  fillNumbers(parts.controls, view.controls);
  tellNew(view.told);
  askedParts(seen);
  predictParts(view.waits_for);
  if (view.waits_for || view.ended || seen.failed) setRuns(false);
  parts.go.disabled = Boolean(view.ended || view.waits_for || seen.failed);
  parts.breath.disabled = parts.go.disabled;
  const over = view.ended ? `${view.ending} End the session for your debrief.` : seen.failed;
  if (over && parts.alert.textContent !== over) fill(parts.alert, make("p", { class: "over" }, over));
}

function fillNumbers(list, shown) {
  // Only what has changed is touched, so that a reader's place is kept.
  if (list.children.length !== shown.length) {
    fill(list, shown.map(() => make("div", {}, make("dt", {}), make("dd", {}))));
  }
  shown.forEach((one, i) => {
    const [name, value] = list.children[i].children;
    const text = `${one.value} ${one.unit}`.trim();
    if (name.textContent !== one.name) name.textContent = one.name;
    if (value.textContent !== text) value.textContent = text;
  });
}

/** The newest notes; the first of all is a terminal's list of acts, which buttons are. */
function tellNew(told) {
  const fresh = told.slice(Math.max(1, practice.toldCount));
  isTold = fresh.length > 0;
  const missing = told.slice(1 + parts.told.children.length);
  put(parts.told, missing.map((one) => make("li", {}, one.says)));
  if (missing.length > 0) parts.told.scrollTop = parts.told.scrollHeight;
  if (isTold) say(fresh.map((one) => one.says).join(" "));
  practice.toldCount = told.length;
}

function endPractice() {
  setRuns(false);
  keepLog();
  const { log, record, file } = practice;
  const marked = engine.ask("debrief");
  const attempt = JSON.parse(log);
  const key = `${attempt.scenario}-${attempt.seed}-${Date.now()}`;
  const entry = {
    key, id: attempt.scenario, title: marked.title, seed: attempt.seed, day: today(),
    passed: marked.passed, points: marked.points, points_of: marked.points_of, which: practice.which, record, file,
  };
  keep.set("attempts", [...keep.attempts(), entry]);
  keep.remove("session");
  // A page around this one, such as a learning platform's, is handed the result.
  if (parent !== window) {
    const { id, passed, points, points_of } = entry;
    parent.postMessage({ tidewright: { lesson: id, passed, points, points_of, record } }, "*");
  }
  practice.lesson = null;
  live.end();
  go(`debrief/${key}`);
}
