/* A class: hands dealt from a roster, logs marked to a table. Nothing leaves the machine. */

function classScreen(main) {
  put(main, [
    make("h1", {}, "A class"),
    make("p", {}, "Deal every student of a roster a patient of one's own, and mark the logs that they hand in. Nothing leaves this machine; names are pseudonyms."),
    dealPart(),
    markPart(),
    make("section", { "aria-label": "Wall chart" }, make("h2", {}, "Wall chart"),
      make("p", {}, "What each fault does to a breath, to print and hang up."),
      chartButtons()),
  ]);
}

const lessonChoice = () => choice(shelf.lessons.map((one) => [one.id, `${one.number}. ${one.title || one.id}`]), shelf.lessons[0].id);

function chartButtons() {
  const wrong = make("div", {});
  const kinds = [["html", "HTML"], ["svg", "SVG"], ["pdf", "PDF"]];
  return [make("p", { class: "clockwork" }, kinds.map(([kind, words]) =>
    button(`Save the chart as ${words}`, () => tried(wrong, () => handOverFile(engine.ask("signs_chart", { kind })))))), wrong];
}

function dealPart() {
  const result = make("div", {});
  const sealed = make("input", { type: "password", autocomplete: "off", size: "20" });
  const lesson = lessonChoice();
  const roster = make("textarea", { rows: "6", value: "pseudonym\n", spellcheck: "false" });
  const seed = make("input", { type: "text", inputmode: "numeric", size: "8", value: "1" });
  return make("section", { "aria-label": "Deal" },
    make("h2", {}, "Deal"),
    field("Lesson", lesson),
    field("Roster: a column headed pseudonym, one student a line", roster),
    opener("Or open the roster", ".csv", false, ([one]) => { roster.value = one.text; }),
    field("Number of the class: the same number deals the same", seed),
    field("Passphrase, to deal sealed exams (empty for practice)", sealed),
    make("p", { class: "soft" }, "A sealed exam has a neutral name, holds nothing that marks, and opens with the passphrase; only your key marks its log. Who has the passphrase and writes programs can read it."),
    button("Deal", () => triedLater(result, "Dealing.", later.ask("deal", {
      lesson: lesson.value, roster: roster.value, seed: Number(seed.value) >>> 0, passphrase: sealed.value === "" ? null : sealed.value,
    }), (dealt) => {
      put(result, [
        make("p", {}, dealt.files[0] && dealt.files[0].file.endsWith(".sealed") ?
          `${dealt.files.length} exams are sealed. Hand them out, tell the passphrase at the hour, and keep the key: without it no log can be marked.` :
          `${dealt.files.length} files are dealt. A file holds a seed, not the case: obscured, not secret. The key is for you alone.`),
        button("Save the key", () => handOver(dealt.key.file, dealt.key.text, "text/csv")),
        make("ul", { class: "buttons" }, dealt.files.map((one) => make("li", {}, button(one.file, () => handOver(one.file, one.text))))),
        dealt.files.length > 1 && button("Save every file", () => dealt.files.forEach((one) => handOver(one.file, one.text))),
      ]);
    }), { class: "first" }),
    result);
}

function markPart() {
  const result = make("div", {});
  const lesson = lessonChoice();
  const handed = { files: [], key: undefined, roster: undefined };
  const count = make("p", { class: "soft" }, "No logs yet.");
  const mark = make("input", { type: "text", inputmode: "decimal", size: "5" });
  const semicolon = make("input", { type: "checkbox" });
  const took = (files) => {
    // A folder may hold other things: only what may be a log is taken.
    handed.files = files.filter(({ file, text }) => /\.(ron|json)$/.test(file) || (file.endsWith(".txt") && engine.ask("what_is", { file, text }).is === "log"));
    const others = files.length - handed.files.length;
    count.textContent = `${handed.files.length} ${handed.files.length === 1 ? "log" : "logs"}.${others > 0 ? ` ${others} other files are left alone.` : ""}`;
  };
  return make("section", { "aria-label": "Mark" },
    make("h2", {}, "Mark"),
    field("Lesson", lesson),
    opener("The logs", ".ron,.json", true, took),
    "webkitdirectory" in document.createElement("input") && opener("Or a folder of them", null, true, took, { webkitdirectory: true }),
    count,
    opener("The key, to compare with what was dealt", ".csv", false, ([one]) => { handed.key = one.text; }),
    opener("The roster, for who handed in nothing", ".csv", false, ([one]) => { handed.roster = one.text; }),
    field("Pass mark, percent (the lesson's own if empty)", mark),
    make("p", { class: "field" }, make("label", {}, semicolon, " semicolons and decimal commas in the gradebook")),
    button("Mark them", () => triedLater(result, "Marking.", later.ask("mark_class", {
        lesson: lesson.value, files: handed.files.map((one) => [one.file, one.text]),
        pass_percent: mark.value.trim() === "" ? null : Number(mark.value),
        key: handed.key, roster: handed.roster, semicolon: semicolon.checked,
    }), (marked) => {
      const points = (row) => (row.points === null ? "–" : `${row.points} of ${row.points_of}`);
      put(result, [
        make("p", { class: "clockwork" },
          button("Save the marks", () => handOver("marks.csv", marked.csv, "text/csv")),
          button("Save the gradebook", () => handOver("gradebook.csv", marked.gradebook, "text/csv")),
          button("Save how each criterion did", () => handOver("items.json", marked.items, "application/json"))),
        table("Marks", ["File", "Pseudonym", "Kind", "Result", "Points", "Beside the key", "Reasons", "Remarks"],
          marked.rows.map((row) => [row.file, row.pseudonym, row.kind, row.result, points(row), row.compared_with_key || "–", row.reasons,
            [row.same_log_as && `the same acts and times as ${row.same_log_as}`, row.remarks].filter(Boolean).join("; ")])),
      ]);
      say(`${marked.rows.length} logs are marked.`);
    }), { class: "first" }),
    result);
}
