/* What waits for hands, and the alarms that the student sets. */

/** The acts that wait; the last that was asked for can be taken back. */
function waitingParts(waiting) {
  const now = waiting.join("; ");
  if (parts.waiting.dataset.now === now) return;
  parts.waiting.dataset.now = now;
  const hadFocus = parts.waiting.contains(document.activeElement);
  const back = () => {
    enter("undo");
    const next = parts.waiting.querySelector("button") || parts.typed.querySelector("input");
    next.focus();
  };
  fill(parts.waiting, waiting.length > 0 && make("section", { class: "hands", "aria-label": "Waiting for your hands" },
    make("p", {}, make("strong", {}, "Waits until your hands are free:")),
    make("ol", {}, waiting.map((act, i) => make("li", {}, act, i === waiting.length - 1 && [" ",
      button("Take back", back, { "aria-label": `Take back: ${act}` })])))));
  // What waited was done meanwhile: the focus must not fall out of the page.
  if (hadFocus && !parts.waiting.contains(document.activeElement)) parts.typed.querySelector("input").focus();
}

/** A limit for an alarm, as `alarm NAME LIMIT` sets it. */
function alarmPart() {
  const { alarms } = practice.lesson;
  const words = { peak: "peak pressure", breath: "time without a breath", volume: "tidal volume", etco2: "end-tidal carbon dioxide", spo2: "oxygen saturation" };
  const of = choice(alarms.map((one) => [one.word, `${words[one.word] || one.word}, ${one.above ? "above" : "below"}, ${one.unit}`]), alarms[0].word);
  const limit = make("input", { type: "text", inputmode: "decimal", size: "5" });
  const set = (at) => enter(`alarm ${of.value} ${at}`);
  return make("details", { class: "alarms" }, make("summary", {}, "Alarms"),
    make("form", {
      class: "set",
      onsubmit: (event) => {
        event.preventDefault();
        if (limit.value.trim() !== "" && set(limit.value.trim().replace(",", "."))) limit.value = "";
      },
    }, field("Alarm", of), field("Limit", limit),
    make("button", { type: "submit" }, "Set the alarm"), button("Alarm off", () => set("off"))),
    parts.alarms);
}

/** The alarms that are set; those that sound stand above the curves, too. */
function alarmParts(alarms) {
  const now = JSON.stringify(alarms);
  if (parts.alarms.dataset.now === now) return;
  parts.alarms.dataset.now = now;
  const sound_ = alarms.filter((one) => one.sounds);
  fill(parts.alarms, alarms.map((one) => make("li", {}, `${one.name} ${one.limit}`)));
  fill(parts.sounds, sound_.map((one) => make("p", { class: "over" }, `Alarm: ${one.name} ${one.sounds}, limit ${one.limit}`)));
  const names = sound_.map((one) => one.name).join(" ");
  if (names !== "" && names !== practice.sounding) sound.alarm();
  practice.sounding = names;
}
