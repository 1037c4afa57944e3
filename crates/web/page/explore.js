/* One breath, one thing turned at a time. The whole state stands in the address. */

const explored = { base: "first-breaths-and-a-leak", set: {}, before: {}, from: null, predict: false };

/** The state as the address has it: `base&flow=2&fault=kinked-tube:60&gas`. */
function readState(text) {
  const state = { base: explored.base, set: {} };
  for (const part of text.split("&").filter(Boolean)) {
    const [name, value] = part.split("=").map(decodeURIComponent);
    if (name === "base" && value) state.base = value;
    else if (name === "gas") state.gas = true;
    else if (name === "text") state.text = value;
    else if (name === "fault" && value) {
      const [fault, percent] = value.split(":");
      state.fault = fault;
      if (percent) state.severity_percent = Number(percent);
    } else if (Number.isFinite(Number(value))) state.set[name] = Number(value);
  }
  return state;
}

function writeState(state) {
  const all = [`base=${encodeURIComponent(state.base)}`];
  for (const [name, value] of Object.entries(state.set)) all.push(`${name}=${value}`);
  if (state.fault) {
    const percent = state.severity_percent === undefined ? "" : `:${state.severity_percent}`;
    all.push(`fault=${state.fault}${percent}`);
  }
  if (state.gas) all.push("gas");
  return all.join("&");
}

function exploreScreen(main, rest) {
  const wrong = make("div", {});
  const place = make("div", {});
  put(main, [
    make("h1", {}, "Explore a breath"),
    make("p", {}, "Turn one thing and see what the settled breath becomes. Grey is the breath before."),
    wrong, place,
  ]);
  const text = rest.join("/");
  const state = text ? readState(text) : explored.now || readState("");
  if (!state.text) {
    tried(wrong, () => layOutExplore(place, wrong, state));
    return;
  }
  const { text: packed, ...rest_ } = state;
  ofLink(packed).then((own) => {
    explored.own = { name: state.base, file: state.base, text: own };
    tried(wrong, () => layOutExplore(place, wrong, rest_));
  }, () => fill(wrong, make("p", { class: "over" }, "The link is not whole: copy it again, to its end.")));
}

/** A scenario of one's own, pressed into a link, and back. */
async function intoLink(text) {
  const pressed = new Blob([text]).stream().pipeThrough(new CompressionStream("deflate-raw"));
  const bytes = new Uint8Array(await new Response(pressed).arrayBuffer());
  const packed = btoa(String.fromCharCode(...bytes)).replaceAll("+", "-").replaceAll("/", "_").replace(/=+$/, "");
  return `${packed.length}.${packed}`;
}

async function ofLink(text) {
  const [length, packed = ""] = text.split(".");
  // Mail and chats cut long links.
  if (packed.length !== Number(length)) throw new Error("cut off");
  const bytes = bytesOf(packed.replaceAll("-", "+").replaceAll("_", "/"));
  return new Response(new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate-raw"))).text();
}

function layOutExplore(place, wrong, state) {
  const own = explored.own && explored.own.name === state.base ? explored.own : null;
  const base = own ? { file: own.file, text: own.text } : state.base;
  explored.from = engine.ask("explore_from", { base });
  explored.now = state;
  explored.which = base;
  explored.before = explored.before.base === state.base ? explored.before : { base: state.base, set: {}, gas: state.gas };
  const scenarios = shelf.scenarios.map((one) => [one.id, one.title || one.id]);
  if (own) scenarios.push([own.name, own.file]);
  const box = {};
  box.canvas = make("canvas", { class: "curves tall", role: "img" });
  box.numbers = make("div", {});
  box.relation = make("div", { class: "relation" });
  box.cautions = make("div", {});
  box.predict = make("div", {});
  box.wrong = wrong;
  explored.box = box;
  fill(place,
    make("div", { class: "explore" },
      box.canvas,
      make("section", { class: "turn", "aria-label": "Turn" },
        field("Patient and circuit", choice(scenarios, state.base, (event) => go(`explore/base=${event.target.value}`))),
        make("p", { class: "soft" }, explored.from.patient),
        explored.from.knobs.map(slider),
        faultPart(),
        make("p", { class: "field" }, make("label", {}, make("input", {
          type: "checkbox", checked: Boolean(state.gas),
          onchange: (event) => change({ gas: event.target.checked }),
        }), " Follow carbon dioxide and oxygen (fifteen minutes)")),
        make("p", { class: "field" }, make("label", {}, make("input", {
          type: "checkbox", checked: explored.predict,
          onchange: (event) => {
            explored.predict = event.target.checked;
            drawExplored();
          },
        }), " Let me predict first"))),
      make("section", { class: "breath", "aria-label": "The breath" },
        box.predict, box.numbers, box.relation, box.cautions)),
    make("p", { class: "clockwork" },
      button("Compare with this from now on", () => {
        explored.before = structuredClone(explored.now);
        drawExplored();
        say("The breath as it is now is the one before.");
      }),
      button("Back to the beginning", () => go(`explore/base=${state.base}&again=${newId("0").slice(2)}`)),
      button("Copy the link", copyLink)),
    savePart(),
    opener("A scenario of your own", ".ron,.json", false, ([file]) => tried(wrong, () => {
      engine.ask("faults", file);
      explored.own = { name: file.file, ...file };
      go(`explore/base=${encodeURIComponent(file.file)}`);
    })));
  drawExplored();
}

/** Something that may be turned: a slider, and a field for any number. */
function slider(knob) {
  const id = newId("knob");
  const at = () => explored.now.set[knob.name] ?? knob.at;
  const range = make("input", { type: "range", id, min: knob.least, max: knob.most, step: "any", value: String(at()), "aria-valuetext": `${said(at())} ${knob.unit}` });
  const number = make("input", { type: "text", inputmode: "decimal", size: "6", value: said(at()), "aria-label": `${knob.words}, ${knob.unit}` });
  const turn = (value) => {
    if (!Number.isFinite(value)) return;
    range.value = String(value);
    range.setAttribute("aria-valuetext", `${said(value)} ${knob.unit}`);
    number.value = said(value);
    explored.now.set[knob.name] = value;
    change({});
  };
  range.addEventListener("input", () => turn(rounded(Math.round(range.valueAsNumber / knob.step) * knob.step, knob.step)));
  // Round steps; with Shift a tenth of one, with Page Up and Page Down ten.
  range.addEventListener("keydown", (event) => {
    const ways = { ArrowUp: 1, ArrowRight: 1, ArrowDown: -1, ArrowLeft: -1, PageUp: 10, PageDown: -10 };
    const way = ways[event.key];
    if (way === undefined) return;
    event.preventDefault();
    const step = event.shiftKey ? knob.step / 10 : knob.step;
    const whole = Math.round(at() / step) + way;
    turn(Math.min(knob.most, Math.max(knob.least, rounded(whole * step, step))));
  });
  number.addEventListener("change", () => turn(Number(number.value.replace(",", "."))));
  return make("div", { class: "knob" }, make("label", { for: id }, `${knob.words}, ${knob.unit}`),
    range, make("span", { class: "reading" }, number),
    button("?", () => relate(knob.term), { "aria-label": `What is behind: ${knob.words}` }));
}

const said = (value) => String(Number(value.toPrecision(value >= 100 ? 4 : 3)));

function faultPart() {
  const { ails: faults } = explored.from;
  const state = explored.now;
  const percent = state.severity_percent ?? 100;
  const shown = make("output", {}, `${percent} %`);
  const severity = make("input", {
    type: "range", min: "5", max: "100", step: "5", value: String(percent), "aria-valuetext": `${percent} percent`,
    oninput: (event) => {
      shown.textContent = `${event.target.value} %`;
      event.target.setAttribute("aria-valuetext", `${event.target.value} percent`);
      change({ severity_percent: event.target.valueAsNumber });
    },
  });
  const isSwitch = (name) => !name || faults.find((one) => one.name === name).switch;
  severity.disabled = isSwitch(state.fault);
  const select = choice([["", "nothing"], ...faults.map((one) => [one.name, one.words])], state.fault || "", (event) => {
    const fault = event.target.value || undefined;
    severity.disabled = isSwitch(fault);
    change({ fault, severity_percent: isSwitch(fault) ? undefined : severity.valueAsNumber });
  });
  return [field("What is wrong", select),
    make("div", { class: "knob" }, make("label", { for: (severity.id = newId("knob")) }, "how bad"), severity, make("span", { class: "reading" }, shown))];
}

function change(more) {
  Object.assign(explored.now, more);
  for (const name of Object.keys(more)) if (more[name] === undefined) delete explored.now[name];
  if (!explored.own) history.replaceState(null, "", `#explore/${writeState(explored.now)}`);
  clearTimeout(explored.later);
  // The newest state is drawn with the next frame; what came between is left out.
  explored.later = setTimeout(drawExplored, 0);
}

async function copyLink() {
  // A scenario of one's own travels in the link.
  const own = explored.own && explored.own.name === explored.now.base ? `&text=${await intoLink(explored.own.text)}` : "";
  const link = `${location.href.split("#")[0]}#explore/${writeState(explored.now)}${own}`;
  if (navigator.clipboard && window.isSecureContext) {
    navigator.clipboard.writeText(link).then(() => say("The link is copied."), () => showLink(link));
  } else showLink(link);
}

function showLink(link) {
  fill(explored.box.relation, field("The link to this state", make("input", { type: "text", readonly: true, value: link, size: "40" })));
  explored.box.relation.querySelector("input").select();
}

function savePart() {
  const name = make("input", { type: "text", value: "my-breath", size: "20" });
  const wrong = make("div", {});
  return make("form", {
    class: "set",
    onsubmit: (event) => {
      event.preventDefault();
      tried(wrong, () => {
        const saved = engine.ask("explore_scenario", { now: stateOf(explored.now), id: name.value.trim() });
        handOver(saved.file, saved.text);
      });
    },
  }, field("Save it as a scenario named", name), make("button", { type: "submit" }, "Save the scenario"), wrong);
}
