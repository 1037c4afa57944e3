/* What this browser keeps: the session under way, attempts, choices. It is a convenience:
 * the record that is downloaded is what counts. */

const keep = {
  memory: {},
  /** Whether it outlasts the page. */
  lasts: true,

  get(name) {
    try {
      const text = localStorage.getItem(`tidewright.${name}`);
      return text === null ? undefined : JSON.parse(text);
    } catch {
      this.lasts = false;
      return this.memory[name];
    }
  },

  set(name, value) {
    this.memory[name] = value;
    try {
      localStorage.setItem(`tidewright.${name}`, JSON.stringify(value));
    } catch {
      this.lasts = false;
    }
  },

  remove(name) {
    delete this.memory[name];
    try {
      localStorage.removeItem(`tidewright.${name}`);
    } catch {
      this.lasts = false;
    }
  },

  /** What was noted of each sitting of an exam: erasing leaves it. */
  sittings() {
    const all = this.get("sittings");
    return Array.isArray(all) ? all : [];
  },

  erase() {
    for (const name of ["session", "attempts", "choices"]) this.remove(name);
  },

  attempts() {
    const all = this.get("attempts");
    return Array.isArray(all) ? all : [];
  },

  choices() {
    return this.get("choices") || {};
  },

  choose(name, value) {
    this.set("choices", { ...this.choices(), [name]: value });
  },
};
