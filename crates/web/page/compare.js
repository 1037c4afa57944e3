/* The breath before and the breath now: curves, numbers, and the relation behind one. */

const stateOf = (state) => ({ ...state, base: explored.which });

function drawExplored() {
  const { box } = explored;
  if (!box || !box.canvas.isConnected) return;
  const answer = tried(box.wrong, () =>
    engine.ask("explore", { before: stateOf(explored.before), now: stateOf(explored.now) }));
  if (!answer) return;
  explored.answer = answer;
  const isChanged = writeState(explored.before) !== writeState(explored.now);
  if (explored.predict && isChanged) askPrediction();
  else showExplored(isChanged);
}

function showExplored(isChanged) {
  const { box, answer } = explored;
  box.predict.replaceChildren();
  const flat = (curve) => curve.points.flat();
  const panels = answer.now.curves.map((curve, i) => ({
    name: curve.name,
    lines: [{ points: flat(answer.before.curves[i]), ghost: true }, { points: flat(curve) }],
  }));
  drawPanels(box.canvas, panels, 0, answer.window_s, [], "s");
  explored.redraw = () => drawPanels(box.canvas, panels, 0, answer.window_s, [], "s");
  const rows = pairs(answer);
  fill(box.numbers, table("The settled breath", ["number", "before", "now", "goes", "why"], rows.map((row) => [
    row.name, row.before, row.now, isChanged ? row.goes : "",
    row.term && button("why?", () => relate(row.term), { "aria-label": `why? ${row.name}, ${row.unit}` }),
  ])));
  box.canvas.setAttribute("aria-label", `Curves of the settled breath. ${rows.map((row) => `${row.name} ${row.now}${row.goes && `, ${row.goes}`}`).join("; ")}`);
  fill(box.cautions, answer.now.cautions.map((text) => make("p", { class: text === shelf.limits ? "soft" : "caution" }, text)));
}

/** Each number before and now, and which way it goes. */
function pairs({ before, now }) {
  return now.numbers.map((one) => {
    const was = before.numbers.find((other) => other.name === one.name && other.unit === one.unit);
    const words = (number) => (number ? `${number.value} ${number.unit}`.trim() : "–");
    const change = was && was.number !== undefined && one.number - was.number;
    const goes = !was || was.value === one.value ? "" : change > 0 ? "↑ up" : change < 0 ? "↓ down" : "changed";
    return { name: one.name, unit: one.unit, before: words(was), now: words(one), goes, term: one.term };
  });
}

/** Which way will it go? The answer is shown after a guess. */
function askPrediction() {
  const { box, answer } = explored;
  const all = pairs(answer);
  const asked = ["inspiratory time", "tidal volume out", "rate"]
    .map((name) => all.find((row) => row.name === name)).filter(Boolean);
  const guesses = asked.map((row) => {
    const select = choice([["", "…"], ["↑ up", "up"], ["", "the same"], ["↓ down", "down"]], "");
    return { row, select };
  });
  fill(box.predict, make("form", {
    class: "predict",
    onsubmit: (event) => {
      event.preventDefault();
      const right = guesses.filter(({ row, select }) => select.selectedIndex > 0 && select.value === row.goes);
      showExplored(true);
      const told = `${right.length} of ${guesses.length} as you said. ` +
        guesses.map(({ row }) => `${row.name}: ${row.before} before, ${row.now} now.`).join(" ");
      fill(box.predict, make("p", {}, told));
      say(told);
    },
  }, make("fieldset", {}, make("legend", {}, "What will become of"),
    guesses.map(({ row, select }) => field(row.name, select)),
    make("button", { type: "submit" }, "Show it"))));
}

/** A word with its relation and the numbers of the breath on the screen. */
function relate(term) {
  const { box } = explored;
  tried(box.relation, () => {
    const told = engine.ask("explore_word", { word: term, now: stateOf(explored.now) });
    const lines = told.text.split("\n").filter(Boolean);
    fill(box.relation, make("h2", {}, lines[0]),
      told.worked && make("p", { class: "formula" }, told.worked), lines.slice(1).map((line) => make("p", {}, line)));
    box.relation.tabIndex = -1;
    box.relation.focus();
  });
}

addEventListener("resize", () => {
  if (explored.redraw && explored.box && explored.box.canvas.isConnected) explored.redraw();
});
