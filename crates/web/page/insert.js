/* The fields that a block still lacks, to be put in where the cursor stands. */

/** Bytes, as the reader counts, and letters, as a text field does. */
const bytesBefore = (text, letters) => new TextEncoder().encode(text.slice(0, letters)).length;
const lettersBefore = (text, bytes) => new TextDecoder().decode(new TextEncoder().encode(text).slice(0, bytes)).length;

function insertPart(edit, changed) {
  const which = make("select", { onchange: () => tell() });
  const heading = make("span", {}, "Fields");
  const meaning = make("p", { class: "soft", id: newId("meaning") });
  which.setAttribute("aria-describedby", meaning.id);
  const putIn = button("Put it in", () => insert());
  let offered = null;
  let later_ = 0;
  const look = () => {
    if (!edit.isConnected) return;
    const at = bytesBefore(edit.value, edit.selectionStart);
    offered = engine.ask("offered", { file: written.file, text: edit.value, at });
    const fields = offered ? offered.fields : [];
    heading.textContent = offered ? `Fields that ${offered.block} may have still` : "Put the cursor inside a block for its fields";
    fill(which, fields.map((one, i) => make("option", { value: String(i) }, one.must ? `${one.name} (needed)` : one.name)));
    which.disabled = fields.length === 0;
    putIn.disabled = which.disabled;
    tell();
  };
  const tell = () => {
    const one = offered && offered.fields[Number(which.value)];
    meaning.textContent = one ? `${one.meaning} It is ${one.value}.` : offered ? "Nothing more." : "";
  };
  const insert = () => {
    const one = offered.fields[Number(which.value)];
    const at = lettersBefore(edit.value, offered.at);
    edit.focus();
    edit.setSelectionRange(at, at);
    // What was typed into a field can be undone there; other ways of writing forget that.
    if (!document.execCommand("insertText", false, one.text)) edit.setRangeText(one.text, at, at, "end");
    const value = one.select.map((bytes) => at + lettersBefore(one.text, bytes));
    edit.setSelectionRange(...value);
    edit.scrollTop = Math.max(0, (edit.value.slice(0, at).split("\n").length - 6) * parseFloat(getComputedStyle(edit).lineHeight));
    changed();
    say(`${one.name} is put in; its value is selected.`);
  };
  const soon = () => {
    clearTimeout(later_);
    later_ = setTimeout(look, 200);
  };
  for (const event of ["input", "click", "keyup", "focus"]) edit.addEventListener(event, soon);
  setTimeout(look, 0);
  const id = (which.id = newId("fields"));
  return make("div", { class: "insert" }, make("div", { class: "set" }, make("label", { for: id }, heading), which, putIn), meaning);
}

/** Whether a lesson's marks are just. */
function proofPart(own) {
  const place = make("div", {});
  const logs = { opened: [] };
  const count = make("p", { class: "soft" }, "");
  const seed = make("input", { type: "text", inputmode: "numeric", size: "5", value: "1" });
  const mine = () => {
    const id = (/\bid:\s*"([^"]+)"/.exec(own().text) || /"id":\s*"([^"]+)"/.exec(own().text) || [])[1];
    return keep.attempts().filter((one) => one.id === id && one.passed).map((one) => [one.file, one.record]);
  };
  return make("section", { "aria-label": "Proof" }, make("h2", {}, "Proof of a lesson"),
    make("p", {}, "A company takes the lesson: who does nothing, presses everything, acts at random or harms the patient must not pass; experts must, also somewhat later and with every patient that a class may be dealt. ",
      "An expert is the record of an attempt as it should be, at least one for each case; your own passed attempts at this lesson count."),
    opener("Records of experts", ".ron,.json", true, (files) => {
      logs.opened = files.map((one) => [one.file, one.text]);
      count.textContent = `${files.length} opened.`;
    }), count,
    make("div", { class: "set" }, field("First seed of the company", seed), button("Prove it", () => {
      const question = { lesson: own(), experts: [...logs.opened, ...mine()], seed: Number(seed.value) >>> 0 };
      triedLater(place, "The company is at it: this takes a while.", later.ask("prove", question), (proof) => {
        put(place, [
          make("p", {}, make("strong", {}, proof.proved ? "Its marks are just." : "Not every mark is just.")),
          wide("Proof", make("pre", {}, proof.text)),
          button("Save the proof as JSON", () => handOver("proof.json", proof.json, "application/json")),
        ]);
        say(proof.proved ? "Its marks are just." : "Not every mark is just.");
      });
    })), place);
}
