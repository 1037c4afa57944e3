/* Elements, files and words for the other scripts. */

/** An element. Properties that begin with `on` are listeners; `class`, `for`, `aria-…`
 * and the like are attributes; nothing is left out. */
function make(tag, properties, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(properties || {})) {
    if (value === undefined || value === null || value === false) continue;
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (name === "value") element.value = value;
    else element.setAttribute(name, value === true ? "" : value);
  }
  put(element, children);
  return element;
}

function put(element, children) {
  for (const child of children.flat(3)) {
    if (child !== undefined && child !== null && child !== false) element.append(child);
  }
  return element;
}

function fill(element, ...children) {
  element.replaceChildren();
  return put(element, children);
}

const byId = (id) => document.getElementById(id);
const button = (words, onclick, more) => make("button", { type: "button", onclick, ...more }, words);

let names = 0;
const newId = (stem) => `${stem}-${(names += 1)}`;

/** A field with its label. */
function field(words, input, hint) {
  const id = input.id || newId("field");
  input.id = id;
  const note = hint && make("span", { class: "hint", id: `${id}-hint` }, hint);
  if (note) input.setAttribute("aria-describedby", note.id);
  return make("p", { class: "field" }, make("label", { for: id }, words), " ", input, note);
}

function choice(options, chosen, onchange) {
  const all = options.map(([value, words]) =>
    make("option", { value, selected: value === chosen }, words));
  return make("select", { onchange }, all);
}

/** A table that scrolls by itself where it is too wide. */
function table(caption, heads, rows) {
  const head = make("tr", {}, heads.map((one) => make("th", { scope: "col" }, one)));
  const body = rows.map((row) => make("tr", {}, row.map((cell, i) =>
    i === 0 ? make("th", { scope: "row" }, cell) : make("td", {}, cell))));
  return wide(caption, make("table", {}, make("caption", {}, caption),
    make("thead", {}, head), make("tbody", {}, body)));
}

/** A box of its own for what may be wider than the screen. */
function wide(words, ...children) {
  return make("div", { class: "wide", role: "region", tabindex: "0", "aria-label": words }, children);
}

/** Tells an event to who listens. */
function say(text) {
  const says = byId("says");
  // The same words twice in turn are told twice.
  says.textContent = says.textContent === text ? `${text}\u00a0` : text;
}

/** What was wrong, with its mend, as a part of the page. */
function complaint(wrong) {
  const faults = wrong.faults || [];
  say(wrong.message);
  return make("div", { class: "wrong" },
    make("p", {}, make("strong", {}, wrong.message)),
    wrong.mend && make("p", {}, wrong.mend),
    faults.length > 0 && make("ol", { class: "faults" }, faults.map((fault) =>
      make("li", {}, `Line ${fault.line}, column ${fault.column}: ${fault.says}. Expected ${fault.expected}. ${fault.mend}`))));
}

/** Runs what may go wrong, and shows it in a place of its own. */
function tried(place, work) {
  try {
    place.replaceChildren();
    return work();
  } catch (error) {
    if (!(error instanceof Wrong)) throw error;
    fill(place, complaint(error));
    return undefined;
  }
}

/** Hands a file to the user. */
function handOver(name, data, media) {
  const url = URL.createObjectURL(new Blob([data], { type: media || "text/plain;charset=utf-8" }));
  const link = make("a", { href: url, download: name });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(url), 10000);
  say(`${name} is saved where your browser keeps files.`);
}

const bytesOf = (base64) => Uint8Array.from(atob(base64), (letter) => letter.charCodeAt(0));
const handOverFile = (answer) => handOver(answer.file, bytesOf(answer.base64), answer.media);

/** A way to open files; `then` gets their names and texts. */
function opener(words, accept, multiple, then, more) {
  const input = make("input", {
    type: "file", accept, multiple, ...more,
    onchange: async () => {
      const files = [...input.files];
      const texts = await Promise.all(files.map((file) => file.text()));
      then(files.map((file, i) => ({ file: file.webkitRelativePath || file.name, text: texts[i] })));
      input.value = "";
    },
  });
  return field(words, input);
}

const rounded = (value, step) => {
  const digits = Math.max(0, Math.ceil(-Math.log10(step) - 1e-9));
  return Number(value.toFixed(digits));
};

const isStill = () => matchMedia("(prefers-reduced-motion: reduce)").matches;
const today = () => Math.floor(Date.now() / 86400000);
const newSeed = () => crypto.getRandomValues(new Uint32Array(1))[0];
