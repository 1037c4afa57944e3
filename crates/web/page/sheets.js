/* Hand-outs: pages to print and work on, with their answers. */

function sheetPart(own) {
  const wrong = make("div", {});
  const seed = make("input", { type: "text", inputmode: "numeric", size: "6", value: "0" });
  const paper = choice([["a4", "A4"], ["letter", "Letter"]], "a4");
  const kinds = [["html", "HTML"], ["pdf", "PDF"]];
  return make("section", { "aria-label": "Hand-out" },
    make("h2", {}, "Hand-out"),
    make("p", {}, "The scenario as a sheet to print: the case, traces without names, a table to predict in, questions, and an answer sheet that the model fills in. 0 is the scenario as it stands; any other number is another patient."),
    make("div", { class: "set" }, field("Patient number", seed), field("Paper", paper),
      kinds.map(([kind, words]) => button(`Make ${words}`, () => tried(wrong, () => {
        const number = Number(seed.value);
        if (!Number.isInteger(number) || number < 0) {
          fill(wrong, make("p", {}, "Write a whole number for the patient, such as 7."));
          return;
        }
        handOverFile(engine.ask("handout", { of: own(), seed: number, paper: paper.value, kind }));
      })))),
    wrong);
}
