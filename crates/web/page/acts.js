/* Acts as buttons and as a typed line; answers and predictions. */

/** Carries out a line as if it had been typed. */
function enter(line) {
  const reply = engine.ask("enter", { line });
  if (reply.reply === "end") {
    endPractice();
    return true;
  }
  const isDone = reply.reply === "done";
  refresh(engine.ask("view"));
  keepLog();
  live.draw();
  if (!isTold && reply.says) say(reply.says);
  return isDone;
}

function typedLine() {
  const input = make("input", { type: "text", autocomplete: "off", autocapitalize: "off", spellcheck: "false", list: "act-words" });
  const words = make("datalist", { id: "act-words" },
    practice.lesson.acts.map((act) => make("option", { value: act.word }, act.meaning)));
  const form = make("form", {
    class: "act long",
    onsubmit: (event) => {
      event.preventDefault();
      if (input.value.trim() === "") return;
      const line = input.value;
      input.value = "";
      enter(line);
    },
  }, field("Type an act", input), make("button", { type: "submit" }, "Do it"), words);
  return form;
}

function actParts(acts) {
  const plain = acts.filter((act) => act.after === "");
  const others = acts.filter((act) => act.after !== "");
  return [
    others.map(actForm),
    make("ul", { class: "buttons" }, plain.map((act) => make("li", {},
      button(act.word, () => enter(act.word), { "aria-describedby": hintId(act) }),
      make("span", { class: "hint", id: hintId(act) }, act.meaning)))),
  ];
}

const hintId = (act) => `hint-${act.word.replace(/[^a-z]/g, "-")}-${act.after === "" ? "do" : "set"}`;

/** An act that needs something more: a number, one of some words, or a text. */
function actForm(act) {
  if (act.after.includes("|")) {
    return make("p", { class: "field" }, `${act.meaning}: `,
      act.after.split("|").map((word) => [button(word, () => enter(`${act.word} ${word}`)), " "]));
  }
  const isText = act.after === "TEXT";
  const input = make("input", isText ? { type: "text", maxlength: "200" } :
    { type: "text", inputmode: "decimal", size: "6" });
  return make("form", {
    class: isText ? "act long" : "act",
    onsubmit: (event) => {
      event.preventDefault();
      if (input.value.trim() !== "" && enter(`${act.word} ${input.value}`)) input.value = "";
    },
  }, field(isText ? act.meaning : `${act.meaning}, ${act.after}`, input),
  make("button", { type: "submit", "aria-label": `${act.word}: ${act.meaning}` }, act.word));
}

/** The questions that are still open. */
function askedParts({ questions }) {
  const open = questions.map((one) => one.id).join(" ");
  if (parts.asked.dataset.open === open) return;
  parts.asked.dataset.open = open;
  fill(parts.asked, questions.map((one) => {
    const group = newId("answers");
    const chosen = () => parts.asked.querySelector(`input[name=${group}]:checked`);
    return make("form", {
      class: "question",
      onsubmit: (event) => {
        event.preventDefault();
        if (chosen()) enter(`answer ${one.id} ${chosen().value}`);
        else say("Choose an answer first.");
      },
    }, make("fieldset", {}, make("legend", {}, one.asks),
      one.answers.map((answer, i) => make("p", {}, make("label", {},
        make("input", { type: "radio", name: group, value: String(i + 1) }), " ", answer))),
      make("button", { type: "submit" }, "Answer")));
  }));
}

/** The prediction for which the clock stands. */
function predictParts(asked) {
  const id = asked ? asked.id : "";
  if (parts.predict.dataset.asked === id) return;
  parts.predict.dataset.asked = id;
  if (!asked) {
    parts.predict.replaceChildren();
    return;
  }
  const guess = (goes) => {
    if (enter(`predict ${id} ${goes}`)) refresh(engine.ask("go"));
  };
  fill(parts.predict, make("fieldset", { class: "predict" },
    make("legend", {}, "Predict before the clock goes on"), make("p", {}, asked.asks),
    button("up", () => guess("up")), " ", button("the same", () => guess("same")), " ",
    button("down", () => guess("down"))));
}
