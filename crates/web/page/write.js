/* Scenarios and lessons written here, with every fault at its place. */

const written = { text: "", file: "my-scenario.ron", timer: 0 };

function writeScreen(main, rest) {
  const place = make("div", { class: "prose" }, make("p", { class: "soft" }, "What a run shows stands here: table, story, figure."));
  const faults = make("div", { class: "faults-here" });
  const edit = make("textarea", {
    id: "text", rows: "24", spellcheck: "false", autocapitalize: "off", autocomplete: "off",
    "aria-describedby": "fault-list", value: written.text,
    oninput: () => {
      written.text = edit.value;
      clearTimeout(written.timer);
      written.timer = setTimeout(check, 250);
    },
  });
  faults.id = "fault-list";
  const all = [...shelf.scenarios, ...shelf.lessons].map((one) => [one.id, one.title || one.id]);
  const take = (file, text) => {
    Object.assign(written, { file, text });
    edit.value = text;
    check();
  };
  const from = choice([["", "choose one"], ...all], "", () => {
    if (!from.value) return;
    const answer = engine.ask("text", { of: from.value });
    take(`${answer.file}.ron`, answer.text);
  });
  const check = () => checkWritten(edit, faults);
  const own = () => ({ file: written.file, text: edit.value });
  put(main, [
    make("h1", {}, "Write a scenario"),
    make("p", {}, "Begin from one that is there, change it, and run it. Faults are told as you type, each with a way to mend it."),
    field("Begin from", from),
    opener("Or open a file", ".ron,.json", false, ([one]) => take(one.file, one.text)),
    make("div", { class: "halves" },
      make("section", { "aria-label": "Text" }, make("p", {}, make("label", { for: "text" }, "The text")), edit, insertPart(edit, () => {
        written.text = edit.value;
        check();
      }), faults,
        make("p", { class: "clockwork" },
          button("Run it", () => tried(place, () => put(place, runParts(engine.ask("run", { of: own() })))), { class: "first" }),
          button("Save the text", () => handOver(written.file, edit.value)),
          button("Practise it", () => tried(place, () => {
            beginPractice({ lesson: own(), seed: newSeed() });
            go("practise");
          })),
          button("Explore its breath", () => tried(place, () => {
            engine.ask("faults", own());
            explored.own = { name: written.file, ...own() };
            go(`explore/base=${encodeURIComponent(written.file)}`);
          })))),
      make("section", { "aria-label": "Result" }, place)),
    proofPart(own),
    sheetPart(own),
  ]);
  if (rest[0]) {
    const answer = engine.ask("text", { of: decodeURIComponent(rest[0]) });
    take(`${answer.file}.ron`, answer.text);
  } else if (written.text === "") {
    const answer = engine.ask("text", { of: shelf.scenarios.find((one) => one.id.startsWith("first")).id });
    take(`${answer.file}.ron`, answer.text);
  } else check();
}

/** Every fault at its place; a button takes the cursor there. */
function checkWritten(edit, place) {
  try {
    engine.ask("faults", { file: written.file, text: edit.value });
    if (place.dataset.state !== "good") say("No faults.");
    place.dataset.state = "good";
    fill(place, make("p", {}, "No faults."));
  } catch (error) {
    if (!(error instanceof Wrong) || !error.faults) throw error;
    const state = error.faults.map((fault) => fault.says).join("; ");
    if (place.dataset.state !== state) say(`${error.faults.length} faults. ${error.faults[0].says}`);
    place.dataset.state = state;
    fill(place, make("ol", { class: "faults" }, error.faults.map((fault) => make("li", {},
      button(`Line ${fault.line}`, () => goToFault(edit, fault)), ` ${fault.says}. Expected ${fault.expected}. ${fault.mend}`))));
  }
}

/** The reader counts bytes, a text field letters. */
function goToFault(edit, fault) {
  const [from, to] = [fault.start, fault.end].map((bytes) => lettersBefore(edit.value, bytes));
  edit.focus();
  edit.setSelectionRange(from, to);
  const lines = edit.value.slice(0, from).split("\n").length;
  edit.scrollTop = Math.max(0, (lines - 6) * parseFloat(getComputedStyle(edit).lineHeight));
}

/** The page of a run. */
function runParts(run) {
  return [
    run.parts.map((part) => {
      if (part.heading) return make("h2", {}, part.heading);
      if (part.paragraph === shelf.caution) return null;
      if (part.paragraph) return make("p", {}, part.paragraph);
      if (part.list) return make("ul", {}, part.list.map((item) => make("li", {}, item)));
      if (part.facts) return make("dl", { class: "facts" }, part.facts.map(([name, text]) => [make("dt", {}, name), make("dd", {}, text)]));
      return [wide("Breaths", make("pre", {}, part.table)), part.note && make("p", {}, part.note)];
    }),
    run.svg ? make("figure", { class: "wide", tabindex: "0", role: "region", "aria-label": run.description }, fromPage(`<!doctype html><body>${run.svg}</body>`)) :
      make("p", {}, run.no_figure),
    make("p", { class: "clockwork" },
      button("Save the report as JSON", () => handOver(`${run.id}.json`, run.json, "application/json")),
      run.svg && button("Save the figure", () => handOver(`${run.id}.svg`, run.svg, "image/svg+xml"))),
  ];
}
