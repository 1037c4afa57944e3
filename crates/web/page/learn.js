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
    make("ol", { class: "lessons" }, lessonItems()),
    attemptsPart(),
    make("h2", {}, "A lesson or a dealt file of your own"),
    make("p", {}, "Open a lesson file, a file that your teacher dealt you, or a record that you saved; for a lesson that is not on this page open both together."),
    opener("Files", ".ron,.json", true, (files) => tried(wrong, () => openOwn(files))),
    make("h2", {}, "What this browser keeps"),
    make("p", {}, "The session under way and your attempts, on this machine alone. Pages opened from files may share this store: save the record of an attempt that counts."),
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
    make("p", {}, button("Go on where you were", () => go("practise")), " ",
      button("Leave it", () => {
        keep.remove("session");
        show();
        say("The session is left.");
      })));
}

function lessonItems() {
  const past = keep.attempts();
  const due = engine.ask("next", {
    past: past.map((one) => [one.id, one.day, one.passed]),
    today: today(),
  });
  const reasons = new Map(due.map((one) => [one.scenario, one]));
  return shelf.lessons.map((lesson) => {
    const next = reasons.get(lesson.id);
    const tries = past.filter((one) => one.id === lesson.id);
    const passed = tries.some((one) => one.passed);
    const state = tries.length === 0 ? "" : passed && !(next && next.day <= today()) ? "passed" : next.reason;
    return make("li", {},
      make("a", { href: `#practise/${lesson.id}` }, lesson.title || lesson.id),
      make("span", { class: "soft" }, ` ${Math.round(lesson.minutes)} min${state && `; ${state}`}`));
  });
}

function attemptsPart() {
  const attempts = keep.attempts();
  if (attempts.length === 0) return null;
  const rows = attempts.slice().reverse().map((one) => [
    one.title, one.passed ? "passed" : "not passed", `${one.points} of ${one.points_of}`, String(one.seed),
    button("Debrief", () => go(`debrief/${one.key}`), { "aria-label": `Debrief: ${one.title}, seed ${one.seed}` }),
    button("Save record", () => handOver(one.file, one.record), { "aria-label": `Save record: ${one.title}, seed ${one.seed}` }),
  ]);
  return [make("h2", {}, "Attempts"),
    table("Attempts, the latest first", ["Lesson", "Result", "Points", "Seed", "Read", "Keep"], rows)];
}

/** A lesson, a dealt file or a record that was opened. */
function openOwn(files) {
  const isLog = (text) => /^\s*(\/\/[^\n]*\n\s*)*(Attempt\b|\{[^]*"pseudonym")/.test(text);
  const log = files.find(({ text }) => isLog(text));
  const lesson = files.find((one) => one !== log);
  if (!log && !lesson) return;
  const named = log && (/scenario:\s*"([^"]+)"/.exec(log.text) || /"scenario":\s*"([^"]+)"/.exec(log.text));
  const which = lesson ? { file: lesson.file, text: lesson.text } : named ? named[1] : "";
  beginPractice({ lesson: which, seed: log ? 0 : newSeed(), log: log && log.text });
  go("practise");
}
