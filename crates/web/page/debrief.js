/* What became of an attempt: the page of the program, laid out for this one. */

function debriefScreen(main, rest) {
  const entry = keep.attempts().find((one) => one.key === decodeURIComponent(rest[0] || ""));
  const wrong = make("div", {});
  if (!entry) {
    go("learn");
    return;
  }
  if (entry.exam) {
    put(main, handInParts(entry));
    return;
  }
  put(main, [wrong]);
  tried(wrong, () => {
    const marked = engine.ask("mark", { lesson: entry.which, log: entry.record });
    const next = entry.passed ? "Practise it again" : "Try again with another patient";
    put(main, [
      make("h1", {}, `Debrief: ${marked.title}`),
      make("p", { class: "clockwork" },
        button(next, () => {
          if (typeof entry.which === "string") go(`practise/${entry.which}`);
          else {
            beginPractice({ lesson: entry.which, seed: newSeed() });
            go("practise");
          }
        }, { class: "first" }), " ",
        button("All lessons", () => go("learn")), " ",
        button("Save the debrief", () => handOver(marked.file, marked.page, "text/html")), " ",
        button("Save the record", () => handOver(entry.file, entry.record)), " ",
        button("Print", () => print())),
      entry.handed && make("p", { class: "kind" }, entry.handed),
      make("div", { class: "prose debrief" }, fromPage(marked.page)),
    ]);
  });
}

/** The body of a page that the model made; its text is escaped there. */
function fromPage(text) {
  const page = new DOMParser().parseFromString(text, "text/html");
  for (const one of page.querySelectorAll("h1, .caution, style, script")) {
    if (!one.closest("svg")) one.remove();
  }
  for (const one of page.querySelectorAll("table")) {
    const heading = one.querySelector("th");
    const box = wide(heading ? `Table: ${heading.textContent}` : "Table");
    one.replaceWith(box);
    box.append(one);
    for (const cell of one.querySelectorAll("tr:first-child th")) cell.setAttribute("scope", "col");
  }
  for (const one of page.querySelectorAll("figure")) {
    one.classList.add("wide");
    one.setAttribute("tabindex", "0");
    one.setAttribute("role", "region");
    one.setAttribute("aria-label", "Figure of the session");
  }
  return [...page.body.children].map((one) => document.adoptNode(one));
}
