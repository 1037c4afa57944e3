/* The gallery, and figure files of one's own. */

function figuresScreen(main, rest) {
  const wrong = make("div", {});
  const place = make("div", {});
  const chosen = decodeURIComponent(rest[0] || "");
  const find = make("input", { type: "search", oninput: () => list() });
  const items = make("ul", { class: "figures" });
  const list = () => {
    const word = find.value.trim().toLowerCase();
    fill(items, shelf.figures
      .filter((one) => `${one.title} ${one.teaches}`.toLowerCase().includes(word))
      .map((one) => make("li", {}, make("a", { href: `#figures/${one.id}` }, one.title), make("br", {}), make("span", { class: "soft" }, one.teaches))));
  };
  put(main, [
    make("h1", {}, "Figures"),
    wrong, place,
    !chosen && make("p", {}, "Each is drawn by the model as you look at it; each has a student's version without names, for a quiz."),
    opener("A figure file or a scenario of your own (with its scenario, if it names one)", ".ron,.json", true, (files) => {
      const figure = files.find(({ text }) => /\bshow:|"show"/.test(text)) || files[0];
      const scenario = files.find((one) => one !== figure);
      const of = { file: figure.file, text: figure.text };
      showFigure(place, wrong, of, scenario && { file: scenario.file, text: scenario.text });
    }),
    field("Find", find), items,
  ]);
  list();
  if (chosen) showFigure(place, wrong, chosen);
}

function showFigure(place, wrong, of, scenario, reader) {
  tried(wrong, () => {
    const asked = { of, scenario, reader };
    const answer = engine.ask("figure", { ...asked, kind: "svg" });
    const kinds = [["svg", "SVG"], ["csv", "CSV"], ["pdf", "PDF"], ["png", "PNG"]];
    const isFile = typeof of === "string" || /\bshow:|"show"/.test(of.text);
    fill(place,
      make("h2", {}, answer.title),
      make("figure", { class: "wide", tabindex: "0", role: "region", "aria-label": answer.title }, picture(answer)),
      make("p", { class: "prose" }, answer.description),
      make("p", { class: "clockwork" },
        isFile && button(reader === "student" ? "Teacher's version" : "Student's version", () =>
          showFigure(place, wrong, of, scenario, reader === "student" ? "teacher" : "student")),
        kinds.map(([kind, words]) => button(`Save ${words}`, () =>
          tried(wrong, () => handOverFile(engine.ask("figure", { ...asked, kind })))))));
  });
}

/** A picture that the model drew. */
function picture(answer) {
  const text = new TextDecoder().decode(bytesOf(answer.base64));
  return fromPage(`<!doctype html><body>${text}</body>`);
}
