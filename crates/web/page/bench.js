/* A circuit on the bench: parts, ports, and what comes of joining them. */

const bench = { start: undefined, steps: [], picked: undefined, loose: false, shown: false, patient: "first-breaths-and-a-leak" };

function benchScreen(main) {
  const place = make("div", {});
  const wrong = make("div", {});
  put(main, [
    make("h1", {}, "The bench"),
    make("p", {}, "Put the circuit together: choose a port, then the port that it goes on. Choose a port that is joined to part it. ",
      "A circuit that is put together wrongly breathes as such a circuit does."),
    wrong, place,
  ]);
  tried(wrong, () => layOutBench(place));
}

function layOutBench(place, focus) {
  const told = engine.ask("bench", { start: bench.start, steps: bench.steps, patient: bench.patient });
  if (told.refused) {
    bench.steps.pop();
    say(told.refused);
  }
  const again = (name) => layOutBench(place, name);
  const begin = (start) => {
    Object.assign(bench, { start, steps: [], picked: undefined, shown: false });
    again();
  };
  const ports = told.pieces.flatMap((piece) => piece.ports);
  const picked = ports.find((port) => port.name === bench.picked);
  const choose = (port) => {
    if (port.on) {
      bench.steps.push({ part: port.name });
      say(`${port.name} is parted from ${port.on}.`);
    } else if (picked && picked.name !== port.name) {
      bench.steps.push({ [bench.loose ? "push_on" : "join"]: [picked.name, port.name] });
      bench.picked = undefined;
      say(`${picked.name} is on ${port.name}.`);
    } else {
      bench.picked = picked ? undefined : port.name;
      if (bench.picked) say(`${port.name}. It fits ${port.fits.length > 0 ? port.fits.join(", ") : "nothing that is free"}.`);
    }
    again(port.name);
  };
  fill(place,
    make("div", { class: "clockwork" },
      button("A circuit put together rightly", () => begin(undefined)),
      button("Find a mistake", () => begin(told.mistakes[newSeed() % told.mistakes.length]), { class: "first" }),
      make("label", {}, make("input", {
        type: "checkbox", checked: bench.loose, onchange: (event) => { bench.loose = event.target.checked; },
      }), " only push on, do not press home")),
    told.refused && make("p", { class: "over" }, told.refused),
    bench.start && make("p", {}, told.right ? make("strong", {}, "This is the circuit that was meant. ") : "Something is put together wrongly. ",
      button("What is it?", () => {
        bench.shown = true;
        again();
      })),
    bench.start && bench.shown && make("p", { class: "relation" }, told.says),
    make("ul", { class: "parts" }, told.pieces.map((piece) => make("li", {},
      make("h2", {}, piece.name), make("p", { class: "soft" }, piece.is),
      make("ul", {}, piece.ports.map((port) => make("li", {}, portButton(port, picked, choose))))))),
    make("section", { "aria-label": "The path of the gas" }, make("h2", {}, "The path of the gas"),
      told.path ? make("ol", {}, told.path.map((line) => make("li", {}, line))) : make("p", {}, told.no_path)),
    make("section", { "aria-label": "The breath" }, benchBreath(told)));
  if (focus) {
    const port = [...place.querySelectorAll("button[data-port]")].find((one) => one.dataset.port === focus);
    if (port) port.focus();
  }
}

function portButton(port, picked, choose) {
  const isPicked = picked && picked.name === port.name;
  const couldGo = picked && picked.fits.includes(port.name);
  const words = port.on ? `on ${port.on}${port.loose ? ", loose" : ""}` : isPicked ? "chosen" : couldGo ? "fits" : "free";
  return button([make("strong", {}, port.word), ` ${words}`], () => choose(port), {
    "data-port": port.name, "aria-pressed": isPicked ? "true" : "false", class: couldGo ? "fits" : undefined,
  });
}

function benchBreath(told) {
  if (!told.breath) return [make("h2", {}, "The breath"), make("p", {}, `No breath comes of it: ${told.no_breath}`)];
  const before = told.before || [];
  const words = (number) => (number ? `${number.value} ${number.unit}`.trim() : "–");
  return table("The breath of this circuit, beside one put together rightly", ["number", "rightly", "this one"],
    told.breath.map((one) => [one.name, words(before.find((other) => other.name === one.name && other.unit === one.unit)), words(one)]));
}
