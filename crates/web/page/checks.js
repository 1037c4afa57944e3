/* The checks of the morning, on the circuit that stands on the bench. */

function checksPart() {
  return make("section", { class: "checks", "aria-label": "The checks of the morning" },
    make("h2", {}, "The checks of the morning"),
    check("squeeze", "Leak test with a thumb", "Outlet and port shut, a thumb presses a little gas out: a tight circuit reaches the cycling pressure, and the ventilator cycles.",
      [["ml", "Pressed out, mL", "0.2"], ["s", "In so many seconds", "0.5"]], "Press",
      (came) => `The pressure rises to ${came.rises_to_cmh2o} cmH2O and the ventilator ${came.cycles ? "cycles" : "does not cycle"}. ` +
        `Tight, this circuit needs ${came.needs_ml} mL; 10 to 20 mL of gas alone need ${came.gas_alone_needs_ml[0]} to ${came.gas_alone_needs_ml[1]}.`),
    check("short_cycles", "Short cycles", "The patient port held shut at a little flow: a tight circuit cycles fast and short, a leak makes it slower, a large one stops it.",
      [["l_per_min", "Flow, L/min", "0.6"]], "Hold the port shut",
      (came) => (came.by_pressure ? `${came.per_min} short cycles a minute, each ${came.inspiratory_s} s long, up to ${came.peak_cmh2o} cmH2O.` :
        `It does not cycle by pressure: each inspiration lasts ${came.inspiratory_s} s, to its time limit, and reaches ${came.peak_cmh2o} cmH2O. Gas gets out somewhere, or the pressure is not sensed.`)),
    check("hours", "Running hours", "Hours switched on, and hours ventilating, as the counters show them.",
      [["in_use_h", "In use, h", "1310"], ["ventilating_h", "Ventilating, h", "499"]], "Read them",
      (came) => ({
        not_yet: `Use it: service is near from ${came.near_h} hours of ventilating on.`,
        near: `Use it, and book the service: it is due by ${came.due_h} hours of ventilating.`,
        due: "Do not use it, and tell whoever is responsible: service is due.",
      })[came.service]));
}

/** A check: its numbers, what it is done by, and what it shows. */
function check(name, title, words, numbers, does, tell) {
  const came = make("div", { class: "came-of" });
  const inputs = numbers.map(([of, label, value]) => [of, label, make("input", { type: "text", inputmode: "decimal", size: "6", value })]);
  return make("form", {
    class: "check",
    onsubmit: (event) => {
      event.preventDefault();
      tried(came, () => {
        const asked = Object.fromEntries(inputs.map(([of, , input]) => [of, Number(input.value.replace(",", "."))]));
        const text = tell(engine.ask("bench_check", { on: onBench(), check: { [name]: asked } }));
        put(came, [make("p", {}, text)]);
        say(text);
      });
    },
  }, make("h3", {}, title), make("p", { class: "soft" }, words),
  make("div", { class: "set" }, inputs.map(([, label, input]) => field(label, input)), make("button", { type: "submit" }, does)), came);
}
