/* The lessons in their order, the session that waits, and past attempts. */

function learnScreen(main) {
  const wrong = make("div", {});
  const waiting = keep.get("session");
  put(main, [
    make("h1", {}, "Lessons"),
    make("p", {}, "Each lesson is a patient, a clock and something to find out. Your attempt is marked and explained at the end. ",
      "Begin with the first: it takes a few minutes."),
    waiting && waitingPart(waiting),
    wrong,
    nextPart(),
    make("h2", {}, "All lessons"),
    make("ol", { class: "lessons" }, lessonItems()),
    attemptsPart(),
    make("h2", {}, "A lesson, an exam or a dealt file of your own"),
    make("p", {}, "Open a lesson file, a sealed exam or a file that your teacher dealt you, or a record that you saved; for a lesson that is not on this page, and to go on with an exam, open both together."),
    opener("Files", ".ron,.json,.sealed", true, (files) => tried(wrong, () => openOwn(files))),
    make("h2", {}, "What this browser keeps"),
    make("p", {}, "The session under way and your attempts, on this machine alone. Pages opened from files may share this store: save the record of an attempt that counts. Erasing leaves the count of exam sittings."),
    button("Erase all of it", () => {
      keep.erase();
      show();
      say("Erased.");
    }),
  ]);
}

function waitingPart(waiting) {
  return make("section", { class: "waiting", "aria-label": "Session under way" },
    make("p", {}, `You are in the middle of “${waiting.title}”.`),
    make("p", {}, button("Go on where you were", () => go("practise"), { class: "first" }), " ",
      button("Leave it", () => {
        keep.remove("session");
        show();
        say("The session is left.");
      })));
}

/** Past attempts of practice, as the model asks for them. */
const practised = () => keep.attempts().filter((one) => !one.exam);

/** What comes next: what is due again, and one new lesson. */
function nextPart() {
  const past = practised();
  if (past.length === 0) return null;
  const now = today();
  const plan = engine.ask("next", { past: past.map((one) => [one.id, one.day, one.passed]), today: now });
  const titles = new Map(shelf.lessons.map((one) => [one.id, one.title || one.id]));
  const when = (day) => (day <= now ? "today" : day === now + 1 ? "tomorrow" : `in ${day - now} days`);
  const item = (one) => {
    const last = past.filter((other) => other.id === one.scenario).pop();
    const missed = last && !last.passed && last.missed && last.missed.length > 0 ? `, missed: ${last.missed.join(", ")}` : "";
    return make("li", {}, make("strong", {}, `${when(one.day)}: `),
      make("a", { href: `#practise/${one.scenario}` }, titles.get(one.scenario) || one.scenario),
      make("span", { class: "soft" }, ` ${one.reason}${missed}`));
  };
  const all = [...plan.due, ...(plan.new ? [plan.new] : [])].sort((one, other) => one.day - other.day);
  return make("section", { class: "next", "aria-label": "What comes next" }, make("h2", {}, "What comes next"),
    all.length > 0 ? make("ul", {}, all.map(item)) : make("p", {}, "Nothing is due: every lesson is passed and reviewed."),
    plan.still_new > 0 && make("p", { class: "soft" }, `${plan.still_new} more are new; they come one by one.`));
}

function lessonItems() {
  const past = practised();
  return shelf.lessons.map((lesson) => {
    const tries = past.filter((one) => one.id === lesson.id);
    const state = tries.length === 0 ? "" : tries.some((one) => one.passed) ? "; passed" : "; not passed yet";
    return make("li", {},
      make("a", { href: `#practise/${lesson.id}` }, lesson.title || lesson.id),
      make("span", { class: "soft" }, ` ${Math.round(lesson.minutes)} min${state}`));
  });
}

function attemptsPart() {
  const attempts = keep.attempts();
  if (attempts.length === 0) return null;
  const rows = attempts.slice().reverse().map((one) => [
    one.title,
    one.exam ? `exam, sitting ${one.exam}` : "practice",
    one.exam ? "your teacher marks it" : one.passed ? "passed" : "not passed",
    one.exam ? "–" : `${one.points} of ${one.points_of}`,
    String(one.seed),
    !one.exam && button("Debrief", () => go(`debrief/${one.key}`), { "aria-label": `Debrief: ${one.title}, seed ${one.seed}` }),
    button("Save record", () => handOver(one.file, one.record), { "aria-label": `Save record: ${one.title}, seed ${one.seed}` }),
  ]);
  return [make("h2", {}, "Attempts"),
    table("Attempts, the latest first", ["Lesson", "Kind", "Result", "Points", "Seed", "Read", "Keep"], rows)];
}

/** A lesson, an exam, a dealt file or a record that was opened. */
function openOwn(files) {
  const kinds = files.map((one) => ({ ...one, is: engine.ask("what_is", one).is }));
  const sealed = kinds.find((one) => one.is === "sealed");
  const log = kinds.find((one) => one.is === "log");
  const lesson = kinds.find((one) => one.is !== "log");
  if (sealed) {
    exam.waits = { file: sealed.file, text: sealed.text, log: log && log.text };
    go("exam");
    return;
  }
  if (!log && !lesson) return;
  const named = log && (/scenario:\s*"([^"]+)"/.exec(log.text) || /"scenario":\s*"([^"]+)"/.exec(log.text));
  const which = lesson ? { file: lesson.file, text: lesson.text } : named ? named[1] : "";
  beginPractice({ lesson: which, seed: log ? 0 : newSeed(), log: log && log.text });
  go("practise");
}
