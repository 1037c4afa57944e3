/* A lesson under way: the clock, the log that is kept, and the screen. */

const practice = {
  /** The lesson as it was begun, its acts and words; nothing without a session. */
  lesson: null,
  which: null,
  /** The sealed file of an exam, with its passphrase, in memory alone. */
  sealed: null,
  runs: false,
  speed: 1,
  /** The log as it was kept last, and the time since. */
  log: null,
  file: "",
  record: "",
  keptAt: 0,
  toldCount: 0,
  /** The alarms that sound. */
  sounding: "",
};

/** Begins a lesson, or takes one up from its log. */
function beginPractice({ lesson, seed, log, name }) {
  return beginWith(engine.ask("begin", { lesson, seed, log, name }), { which: lesson });
}

function beginWith(begun, { which = null, sealed = null }) {
  Object.assign(practice, {
    lesson: begun, which, sealed, runs: false, speed: 1, toldCount: begun.view.view.told.length, sounding: "",
  });
  keepLog();
  return begun;
}

/** Keeps the log: each second, after each act, and when the page is hidden. */
function keepLog() {
  const { log, record, file } = engine.ask("log");
  Object.assign(practice, { log, record, file, keptAt: performance.now() });
  const sealed = practice.sealed && { file: practice.sealed.file, text: practice.sealed.text };
  keep.set("session", { which: practice.which, sealed, title: practice.lesson.title, log });
}

/** After a failure of the model: a new one, and the session from its log, to the moment
 * that was on the screen. */
function bringBack() {
  if (!practice.lesson) return;
  const log = JSON.parse(practice.log);
  log.ended_at_s = Math.max(log.ended_at_s, live.now);
  const more = { log: JSON.stringify(log) };
  engine.put(practice.sealed ? { ask: "sit", ...practice.sealed, ...more, failed: true } :
    { ask: "begin", lesson: practice.which, seed: 0, ...more });
  engine.put({ ask: "speed", times: practice.speed });
  if (practice.runs) engine.put({ ask: "go" });
  say("The model failed and was begun anew; the session goes on.");
}

/** The session that was kept, if there is one and it can be played; an exam asks for its
 * passphrase first. */
function takeUp() {
  const kept = keep.get("session");
  if (!kept) return "none";
  if (kept.sealed) {
    exam.waits = { ...kept.sealed, log: kept.log };
    return "exam";
  }
  beginPractice({ lesson: kept.which, seed: 0, log: kept.log });
  return "practise";
}

function practiseScreen(main, rest) {
  const wrong = make("div", {});
  put(main, [wrong]);
  tried(wrong, () => {
    if (rest.length > 0) {
      beginPractice({ lesson: decodeURIComponent(rest[0]), seed: rest[1] ? Number(rest[1]) : newSeed() });
      history.replaceState(null, "", "#practise");
    } else if (!practice.lesson) {
      const taken = takeUp();
      if (taken !== "practise") {
        go(taken === "exam" ? "exam" : "learn");
        return;
      }
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
  parts.speed = make("output", { class: "soft" });
  const turn = (times) => () => {
    refresh(engine.ask("speed", { times: practice.speed * times }));
    say(parts.speed.textContent);
  };
  parts.numbers = make("dl", { class: "numbers" });
  parts.controls = make("dl", { class: "numbers" });
  parts.told = make("ol", { class: "told", tabindex: "0", "aria-label": "What was told, the newest last" });
  for (const name of ["alert", "sounds", "typed", "asked", "predict", "waiting"]) parts[name] = make("div", {});
  parts.alarms = make("ul", { class: "set-alarms" });
  parts.canvas = make("canvas", { class: "curves", role: "img", "aria-label": `Curves: ${lesson.curves.join(", ")}. Read the monitor for numbers.` });
  parts.acts = make("div", { class: "acts" });
  put(main, [
    make("h1", {}, lesson.title),
    make("p", { class: "kind" }, lesson.exam ? `Exam, sitting ${lesson.exam} on this machine. Your teacher marks it.` : "Practice: marked and explained at the end."),
    make("details", { class: "opening", open: !seen.view.started }, make("summary", {}, "The case"),
      make("div", { class: "prose" }, openingParts(seen.view.opening))),
    make("div", { class: "clockwork" }, parts.go, parts.breath,
      make("span", { class: "pair", role: "group", "aria-label": "How fast time passes" },
        button("Slower", turn(0.5)), button("Faster", turn(2)), parts.speed),
      button("Read the monitor (F2)", readMonitor),
      lesson.hints && button("A hint", () => enter("hint")),
      muteButton(),
      button("Save the record", () => {
        keepLog();
        handOver(practice.file, practice.record);
      }),
      button(lesson.exam ? "End the exam" : "End and debrief", endPractice)),
    parts.alert,
    parts.predict,
    parts.sounds,
    make("p", { class: "time" }, parts.clock),
    make("div", { class: lesson.curves.length > 0 ? "bedside" : "bedside bare" },
      lesson.curves.length > 0 && make("div", { class: "paper" }, parts.canvas),
      make("section", { class: "read", "aria-label": "Numbers" }, make("h2", {}, "Read off"), parts.numbers,
        make("h2", {}, "Set"), parts.controls),
      make("section", { class: "notes", "aria-label": "Notes" }, make("h2", {}, "Notes"), parts.told, parts.asked),
      make("section", { class: "do", "aria-label": "Do" }, make("h2", {}, "Do"), parts.waiting, parts.typed, parts.acts, alarmPart())),
  ]);
  fill(parts.typed, typedLine());
  fill(parts.acts, actParts(lesson.acts));
  live.begin(parts.canvas, lesson.curves);
  refresh(seen);
}

/** The opening's lines as paragraphs and lists; title and caution stand on the page already. */
function openingParts(text) {
  const lines = text.split("\n").filter((line) => line.trim() !== "");
  const items = lines.filter((line) => line.startsWith("  - "));
  const prose = lines.filter((line) => !line.startsWith("  - ") && line !== shelf.caution && line !== practice.lesson.title);
  return [prose.map((line) => make("p", {}, line)),
    items.length > 0 && make("ul", {}, items.map((line) => make("li", {}, line.slice(4))))];
}

/** Whether time passes, as the model has it. */
function showRuns(runs) {
  if (practice.runs !== runs) live.last = 0;
  practice.runs = runs;
  parts.go.textContent = runs ? "Pause" : live.now > 0 ? "Go on" : "Start the clock";
}

/** The case makes room once time passes; it can be opened again. */
function closeCase() {
  const opening = document.querySelector("details.opening");
  if (opening && live.now === 0) opening.open = false;
}

function toggleClock() {
  closeCase();
  refresh(engine.ask(practice.runs ? "pause" : "go"));
  say(practice.runs ? "The clock runs." : "Paused.");
  keepLog();
}

function oneBreath() {
  closeCase();
  refresh(engine.ask("next_breath"));
  live.draw();
  keepLog();
  if (!isTold) say(live.status);
}

const readMonitor = () => say(engine.ask("view").status);

/** Whether something new was told in the last refresh, so that the monitor is not. */
let isTold = false;

const asFast = (speed) => (speed === 1 ? "as fast as a watch" : speed < 1 ? `${said(1 / speed)} times slower` : `${said(speed)} times faster`);

/** Brings everything but the curves up to date. */
function refresh(seen) {
  const { view } = seen;
  live.now = view.now_s;
  live.status = seen.status;
  practice.speed = view.speed;
  parts.speed.textContent = `time: ${asFast(view.speed)}`;
  const minutes = Math.floor(view.now_s / 60);
  const seconds = String(Math.floor(view.now_s % 60)).padStart(2, "0");
  parts.clock.textContent = `${minutes}:${seconds} of ${Math.round(view.duration_s / 60)} min` +
    (view.busy_until_s ? `; hands are busy until ${Math.ceil(view.busy_until_s)} s` : "");
  fillNumbers(parts.numbers, view.numbers);
  fillNumbers(parts.controls, view.controls);
  tellNew(view.told);
  askedParts(seen);
  waitingParts(view.waiting);
  alarmParts(view.alarms);
  predictParts(view.waits_for);
  showRuns(view.running && !seen.failed);
  parts.go.disabled = Boolean(view.ended || view.waits_for || seen.failed);
  parts.breath.disabled = parts.go.disabled;
  const over = view.ended ? `${view.ending} End the session for your debrief.` : seen.failed;
  const words = practice.lesson.exam && view.ended ? `${view.ending} End the exam to hand in its log.` : over;
  if (words && parts.alert.textContent !== words) fill(parts.alert, make("p", { class: "over" }, words));
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
  engine.ask("pause");
  keepLog();
  const { log, record, file, lesson } = practice;
  const attempt = JSON.parse(log);
  const key = `${attempt.scenario}-${attempt.seed}-${Date.now()}`;
  const entry = { key, id: attempt.scenario, seed: attempt.seed, day: today(), which: practice.which, record, file };
  if (lesson.exam) Object.assign(entry, { exam: lesson.exam, title: `Exam ${attempt.scenario}` });
  else {
    const { title, passed, points, points_of, missed } = engine.ask("debrief");
    Object.assign(entry, { title, passed, points, points_of, missed });
  }
  entry.handed = platform.take(entry);
  keep.set("attempts", [...keep.attempts(), entry]);
  keep.remove("session");
  // A page around this one, such as a learning platform's, is handed the result.
  if (parent !== window) {
    const { id, passed, points, points_of } = entry;
    parent.postMessage({ tidewright: { lesson: id, passed, points, points_of, record } }, "*");
  }
  Object.assign(practice, { lesson: null, sealed: null });
  live.end();
  go(`debrief/${key}`);
}
