/* Long answers, away from the screen: a second model in a worker. */

const later = {
  worker: null,
  waiting: new Map(),

  /** The answer to a question, when it is there. Without a worker it is given here. */
  ask(name, more) {
    const question = { ask: name, ...more };
    const worker = this.begun();
    if (!worker) return Promise.resolve().then(() => engine.ask(name, more));
    const id = newId("question");
    return new Promise((then, wrong) => {
      this.waiting.set(id, { then, wrong, question });
      worker.postMessage({ id, question });
    });
  },

  begun() {
    if (this.worker !== null) return this.worker;
    const source = `"use strict";
      const engine = { ${engine.put}, ${engine.imports} };
      const begin = () => { engine.door = new WebAssembly.Instance(engine.module, engine.imports()).exports; };
      onmessage = ({ data }) => {
        if (data.module) {
          engine.module = data.module;
          begin();
          return;
        }
        let answer;
        try {
          answer = engine.put(data.question);
        } catch (error) {
          answer = { wrong: { what: "the model failed: " + error, mend: "try it with less" } };
          begin();
        }
        postMessage({ id: data.id, answer });
      };`;
    try {
      const url = URL.createObjectURL(new Blob([source], { type: "text/javascript" }));
      this.worker = new Worker(url);
      URL.revokeObjectURL(url);
      this.worker.postMessage({ module: engine.module });
      this.worker.onmessage = ({ data }) => this.came(data);
      this.worker.onerror = () => this.failed();
    } catch {
      this.failed();
    }
    return this.worker;
  },

  came({ id, answer }) {
    const { then, wrong } = this.waiting.get(id);
    this.waiting.delete(id);
    if (isWrong(answer)) wrong(new Wrong(answer));
    else then(answer);
  },

  /** Where there can be no worker the screen waits instead. */
  failed() {
    this.worker = false;
    for (const { then, question } of this.waiting.values()) then(Promise.resolve().then(() => engine.ask(question.ask, question)));
    this.waiting.clear();
  },
};

/** Shows that it is worked on, then what came of it or what was wrong. */
async function triedLater(place, words, question, show) {
  fill(place, make("p", { class: "soft" }, words));
  say(words);
  try {
    const answer = await question;
    fill(place);
    show(answer);
  } catch (error) {
    if (!(error instanceof Wrong)) throw error;
    fill(place, complaint(error));
  }
}
