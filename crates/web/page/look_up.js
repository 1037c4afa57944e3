/* Words, animals, signs of faults, and the format of scenarios. */

const ANIMALS = ["Cat", "Dog", "Rabbit", "Ferret", "GuineaPig", "Rat", "Horse"];

function lookUpScreen(main) {
  const find = make("input", { type: "search", oninput: () => list() });
  const place = make("div", {});
  const { words } = engine.ask("words");
  const reference = shelf.whole ? sections(engine.ask("reference").markdown) : [];
  const list = () => {
    const word = find.value.trim().toLowerCase();
    const has = (...texts) => texts.flat().join(" ").toLowerCase().includes(word);
    fill(place,
      make("h2", {}, "Words"),
      make("dl", { class: "words" }, words.filter((one) => has(one.name, one.also, one.meaning)).map((one) => [
        make("dt", {}, one.name, one.also.length > 0 && make("span", { class: "soft" }, ` also: ${one.also.join(", ")}`)),
        make("dd", {}, one.meaning, one.relation && make("p", { class: "formula" }, one.relation)),
      ])),
      shelf.whole && make("h2", {}, "The format of scenarios"),
      reference.filter((one) => has(one.text)).map((one) =>
        make("details", {}, make("summary", {}, one.heading), make("div", { class: "prose" }, markdown(one.text)))));
  };
  put(main, [
    make("h1", {}, "Look up"),
    field("Find in words and format", find),
    place,
    animalPart(),
    make("section", { "aria-label": "Licences" }, make("h2", {}, "Licences"), licences()),
    make("section", { "aria-label": "Signs" }, make("h2", {}, "What each fault shows"),
      make("details", {}, make("summary", {}, "The table of signs"), markdown(engine.ask("signs").markdown))),
  ]);
  list();
}

/** What the page is built from, and under which terms: unpacked when it is asked for. */
function licences() {
  const place = make("div", {});
  return make("details", {
    ontoggle: async () => {
      if (place.childNodes.length === 0) place.append(wide("Licences", make("pre", {}, await unpacked("notices").text())));
    },
  }, make("summary", {}, "What this page is built from, and under which terms"),
  make("p", {}, "Tidewright is yours under the MIT licence or the Apache licence 2.0. What else is inside:"), place);
}

function animalPart() {
  const result = make("div", {});
  const species = choice(ANIMALS.map((one) => [one, one.replace("P", " p")]), "Cat");
  const weight = make("input", { type: "text", inputmode: "decimal", size: "6", value: "4.2" });
  return make("section", { "aria-label": "Animals" }, make("h2", {}, "Typical animals"),
    make("form", {
      class: "set",
      onsubmit: (event) => {
        event.preventDefault();
        tried(result, () => {
          const told = engine.ask("species", { species: species.value, weight_kg: Number(weight.value.replace(",", ".")) });
          put(result, [
            make("p", {}, `Typical published values under anaesthesia, for teaching: not those of the animal in front of you. Usual weights: ${told.usual[0]} to ${told.usual[1]} kg.`),
            !told.is_usual && make("p", {}, make("strong", {}, "This weight is outside the usual ones: the laws are stretched beyond the animals they come from.")),
            table(`${told.species}, ${told.weight_kg} kg`, ["number", "typical", "19 of 20 animals", "how we know"], told.rows.map((row) =>
              [row.name, `${row.value} ${row.unit}`, row.between ? `${row.between[0]} to ${row.between[1]}` : "–", row.source])),
          ]);
        });
      },
    }, field("Species", species), field("Weight, kg", weight), make("button", { type: "submit" }, "Show")),
    result);
}

/** The parts of a Markdown text under its second headings. */
function sections(text) {
  return text.split("\n## ").slice(1).map((part) => {
    const [heading, ...rest] = part.split("\n");
    return { heading, text: `${heading}\n${rest.join("\n")}` };
  });
}

/** The little of Markdown that the reference uses: paragraphs, lists, tables, code. */
function markdown(text) {
  const all = [];
  const blocks = text.split("\n").slice(text.startsWith("|") ? 0 : 1).join("\n").split(/\n\n+/);
  for (const block of blocks) {
    const lines = block.split("\n").filter(Boolean);
    if (lines.length === 0) continue;
    if (block.startsWith("```")) all.push(wide("Example", make("pre", {}, block.replace(/^```.*\n|\n?```$/g, ""))));
    else if (lines[0].startsWith("|")) all.push(markdownTable(lines));
    else if (lines[0].startsWith("- ")) all.push(make("ul", {}, block.split(/\n?^- /m).filter(Boolean).map((item) => make("li", {}, inline(item)))));
    else if (/^#+ /.test(lines[0])) all.push(make("h3", {}, lines[0].replace(/^#+ /, "")));
    else all.push(make("p", {}, inline(block.replace(/^> /gm, ""))));
  }
  return all;
}

function markdownTable(lines) {
  const cells = (line) => line.replace(/^\||\|$/g, "").split(/(?<!\\)\|/).map((cell) => cell.trim());
  const [heads, , ...rows] = lines.map(cells);
  return table("Table", heads, rows.map((row) => row.map((cell) => inline(cell))));
}

/** Words in code letters, strong words, and links by their text. */
function inline(text) {
  const plain = text.replace(/\[([^\]]*)\]\([^)]*\)/g, "$1").replace(/\\\|/g, "|");
  return plain.split(/(`[^`]*`|\*\*[^*]*\*\*)/).filter(Boolean).map((part) => {
    if (part.startsWith("`")) return make("code", {}, part.slice(1, -1));
    if (part.startsWith("**")) return make("strong", {}, part.slice(2, -2));
    return part;
  });
}
