/* Sealed exams: opened with a passphrase, counted on this machine, marked by nobody here. */

const exam = {
  /** The file that waits for its passphrase, and the log to take up, if there is one. */
  waits: null,
};

function examScreen(main) {
  const waits = exam.waits;
  if (!waits) {
    go("learn");
    return;
  }
  const wrong = make("div", {});
  const passphrase = make("input", { type: "password", autocomplete: "off", size: "24", required: true });
  put(main, [
    make("h1", {}, waits.log ? "Go on with the exam" : "An exam"),
    make("p", {}, "Type the passphrase as your teacher gave it. What you do is kept in a log whose acts are chained: a change of it shows. ",
      "At the end you save the log and hand it in; your teacher marks it. There are no hints and there is no debrief here."),
    make("p", {}, "Sittings are counted on this machine, and closing the page in the middle is noted. The page keeps the sealed file and the log, never the passphrase."),
    make("form", {
      class: "set",
      onsubmit: (event) => {
        event.preventDefault();
        if (tried(wrong, () => beginExam({ ...waits, passphrase: passphrase.value }))) {
          exam.waits = null;
          go("practise");
        } else passphrase.select();
      },
    }, field("Passphrase", passphrase), make("button", { type: "submit", class: "first" }, waits.log ? "Go on" : "Begin the exam")),
    wrong,
    make("p", {}, button("All lessons", () => go("learn"))),
  ]);
  passphrase.focus();
}

/** Begins a sitting, or takes it up from its log. */
function beginExam({ file, text, passphrase, log }) {
  const sealed = { file, text, passphrase };
  const begun = engine.ask("sit", { ...sealed, log, sat: keep.sittings() });
  if (!log) keep.set("sittings", [...keep.sittings(), begun.sitting]);
  return beginWith(begun, { sealed });
}

/** Where the log of an exam is handed over. */
function handInParts(entry) {
  return [
    make("h1", {}, "The exam is over"),
    make("p", {}, "Save the log and hand it in as it is: your teacher marks it. A log that was changed is told; none proves who sat there."),
    make("p", { class: "clockwork" },
      button("Save the log", () => handOver(entry.file, entry.record), { class: "first" }), " ",
      button("All lessons", () => go("learn"))),
  ];
}
