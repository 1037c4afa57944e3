/* The model: unpacked, asked, and begun anew where it failed. */

/** What cannot be answered, in words of the model. */
class Wrong extends Error {
  constructor(answer) {
    super(answer.wrong ? answer.wrong.what : answer.says);
    this.mend = answer.wrong && answer.wrong.mend;
    this.faults = answer.faults;
  }
}

/** Whether it is told what is wrong; nothing at all is an answer, too. */
const isWrong = (answer) => Boolean(answer && (answer.wrong || (answer.faults && answer.more !== undefined && answer.faults.length > 0)));

/** Bytes that were packed as letters: their number, then 13 bits in two letters of 91. */
function unpacked(id) {
  const [length, text] = byId(id).textContent.trim().split(" ");
  const value = new Int16Array(128);
  let count = 0;
  for (let code = 33; code < 127; code += 1) if (!"&<>".includes(String.fromCharCode(code))) value[code] = count++;
  const bytes = new Uint8Array(Number(length));
  let [held, bits, at] = [0, 0, 0];
  for (let i = 0; i < text.length; i += 2) {
    held |= (value[text.charCodeAt(i)] * 91 + value[text.charCodeAt(i + 1)]) << bits;
    for (bits += 13; bits >= 8; bits -= 8) {
      bytes[at++] = held & 255;
      held >>= 8;
    }
  }
  const plain = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("gzip"));
  return new Response(plain);
}

const engine = {
  module: null,
  door: null,
  /** Another one, begun beforehand: where the model fails there is no time to wait. */
  spare: null,
  /** What brings a session back after the model failed; told the error. */
  bringBack: null,

  async unpack() {
    const bytes = await unpacked("module").arrayBuffer();
    byId("module").remove();
    this.module = await WebAssembly.compile(bytes);
    this.door = (await WebAssembly.instantiate(this.module, this.imports())).exports;
    this.keepSpare();
  },

  keepSpare() {
    this.spare = null;
    WebAssembly.instantiate(this.module, this.imports()).then((one) => { this.spare = one.exports; });
  },

  /** The drawing library names functions of a browser that it never calls here: each is
   * one that fails if it ever is. */
  imports() {
    const all = {};
    for (const { module, name } of WebAssembly.Module.imports(this.module)) {
      all[module] = all[module] || {};
      all[module][name] = () => {
        throw new Error(`${name} is not there`);
      };
    }
    return all;
  },

  /** A question put once. */
  put(question) {
    const bytes = new TextEncoder().encode(JSON.stringify(question));
    const place = this.door.question(bytes.length);
    new Uint8Array(this.door.memory.buffer, place, bytes.length).set(bytes);
    const length = this.door.ask();
    const answer = new Uint8Array(this.door.memory.buffer, this.door.answer(), length);
    return JSON.parse(new TextDecoder().decode(answer));
  },

  /** The answer to a question. Where the model fails it is begun anew, the session is
   * brought back, and the question is put once more. */
  ask(name, more) {
    const question = { ask: name, ...more };
    let answer;
    try {
      answer = this.put(question);
    } catch (error) {
      this.beginAnew(error);
      answer = this.put(question);
    }
    if (isWrong(answer)) throw new Wrong(answer);
    return answer;
  },

  beginAnew(error) {
    this.door = this.spare || new WebAssembly.Instance(this.module, this.imports()).exports;
    this.keepSpare();
    if (this.bringBack) this.bringBack(error);
  },

  /** Lets time pass: 0 the clock stands, 1 time, 2 something was told, 3 it stopped. */
  advance(seconds) {
    try {
      return this.door.advance(seconds);
    } catch (error) {
      this.beginAnew(error);
      return 2;
    }
  },

  /** The time, how much of it is shown, and the curves: flat lists of time and value. */
  curves() {
    const length = this.door.gather();
    const all = new Float64Array(this.door.memory.buffer, this.door.points(), length);
    if (length < 3) return { now: 0, window: 1, curves: [] };
    const curves = [];
    let at = 3;
    for (let i = 0; i < all[2]; i += 1) {
      const count = 2 * all[at];
      curves.push(all.subarray(at + 1, at + 1 + count));
      at += 1 + count;
    }
    return { now: all[0], window: all[1], curves };
  },
};
