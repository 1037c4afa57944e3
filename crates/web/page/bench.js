/* A circuit on the bench: parts and ports, the drawing, and what comes of joining them. */

const bench = {
  start: undefined, steps: [], picked: undefined, loose: false, shown: false,
  patient: "first-breaths-and-a-leak", phase: "expiration",
};

const PHASES = [["inspiration", "valve shut: inspiration"], ["expiration", "valve open: expiration"], ["standby", "standby"]];

/** The circuit as the model is asked about it. */
const onBench = () => ({ start: bench.start, steps: bench.steps, patient: bench.patient, phase: bench.phase });

function benchScreen(main) {
  const place = make("div", {});
  const wrong = make("div", {});
  put(main, [
    make("h1", {}, "The bench"),
    make("p", { class: "prose" }, "Put the circuit together: pull a line from the knob of a port to another port, or choose one port and then the other. ",
      "To part two ports pull the line off, or choose one of them. A circuit that is put together wrongly breathes as such a circuit does."),
    wrong, place,
  ]);
  tried(wrong, () => layOutBench(place));
}

function layOutBench(place, focus) {
  let told = engine.ask("bench", onBench());
  let refused = told.refused;
  if (refused) {
    bench.steps.pop();
    say(refused);
    told = engine.ask("bench", onBench());
  }
  const again = (name) => layOutBench(place, name);
  const begin = (start) => {
    Object.assign(bench, { start, steps: [], picked: undefined, shown: false });
    again();
  };
  const ports = told.pieces.flatMap((piece) => piece.ports);
  const find = (name) => ports.find((port) => port.name === name);
  const join = (one, other) => {
    bench.steps.push({ [bench.loose ? "push_on" : "join"]: [one, other] });
    bench.picked = undefined;
    say(`${one} is on ${other}.`);
    again(other);
  };
  const part = (port) => {
    bench.steps.push({ part: port.name });
    say(`${port.name} is parted from ${port.on}.`);
    again(port.name);
  };
  const picked = find(bench.picked);
  const choose = (port) => {
    if (port.on) part(port);
    else if (picked && picked.name !== port.name) join(picked.name, port.name);
    else {
      bench.picked = picked ? undefined : port.name;
      if (bench.picked) say(`${port.name}. It fits ${port.fits.length > 0 ? port.fits.join(", ") : "nothing that is free"}.`);
      again(port.name);
    }
  };
  // A line that was pulled from one port and let go on another, or on nothing.
  const pulled = (from, to) => {
    if (to && to.name !== from.name && to.name !== from.on) {
      // The end that was pulled off leaves the other one where it is.
      if (from.on) bench.steps.push({ part: from.name });
      join(from.on || from.name, to.name);
    } else if (!to && from.on) part(from);
  };
  const joints = jointLines(told.pieces, picked, { choose, pulled, find });
  fill(place,
    make("div", { class: "clockwork" },
      button("Find a mistake", () => begin(told.mistakes[newSeed() % told.mistakes.length]), { class: "first" }),
      button("A circuit put together rightly", () => begin(undefined)),
      button("All parts on the table", () => begin("apart")),
      button("Take back the last step", () => {
        bench.steps.pop();
        again();
      }, { disabled: bench.steps.length === 0 }),
      make("label", {}, make("input", {
        type: "checkbox", checked: bench.loose, onchange: (event) => { bench.loose = event.target.checked; },
      }), " only push on, do not press home")),
    refused && make("p", { class: "over" }, refused),
    bench.start && make("p", {}, told.right ? make("strong", {}, "This is the circuit that was meant. ") : bench.start === "apart" ? "It is not yet the whole circuit. " : "Something is put together wrongly. ",
      told.says && button("What is it?", () => {
        bench.shown = true;
        again();
      })),
    bench.start && bench.shown && make("p", { class: "relation" }, told.says),
    make("div", { class: "onbench" },
      make("section", { class: "table", "aria-label": "Parts and ports" }, make("h2", {}, "Parts and ports"), joints.list),
      make("section", { class: "drawn", "aria-label": "The drawing" }, make("h2", {}, "The way of the gas"),
        field("Arrows for", choice(PHASES, bench.phase, (event) => {
          bench.phase = event.target.value;
          again();
        })),
        told.svg ? make("figure", { class: "wide", tabindex: "0", role: "region", "aria-label": `The circuit. ${told.described}` }, fromPage(`<!doctype html><body>${told.svg}</body>`)) :
          make("p", {}, `It cannot be drawn yet: ${told.no_path}.`),
        told.path && make("ol", { class: "path" }, told.path.map((line) => make("li", {}, line)))),
      make("section", { class: "came", "aria-label": "The breath" }, benchBreath(told)),
      checksPart()));
  joints.draw();
  if (focus) {
    const port = [...place.querySelectorAll("button[data-port]")].find((one) => one.dataset.port === focus);
    if (port) port.focus({ preventScroll: true });
  }
}

function benchBreath(told) {
  if (!told.breath) return [make("h2", {}, "The breath"), make("p", {}, `No breath comes of it: ${told.no_breath}.`)];
  const before = told.before || [];
  const words = (number) => (number ? `${number.value} ${number.unit}`.trim() : "–");
  return [make("h2", {}, "The breath"),
    table("The breath of this circuit, beside one put together rightly", ["number", "rightly", "this one"],
      told.breath.map((one) => [one.name, words(before.find((other) => other.name === one.name && other.unit === one.unit)), words(one)]))];
}
