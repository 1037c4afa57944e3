/* A learning platform around the page: how far its lesson is and what it scored, by SCORM
 * 1.2 or 2004, where the platform offers either. */

const platform = {
  /** The interface that was found, and how it names things; nothing without a platform. */
  api: null,
  says: null,
  /** The lesson that the platform opened, if it opened one. */
  lesson: null,
  began: 0,

  begin() {
    for (const says of [SCORM_2004, SCORM_1_2]) {
      this.api = this.api || this.found(says.api);
      if (this.api) {
        this.says = says;
        break;
      }
    }
    if (!this.api || this.api[this.says.begin]("") !== "true") {
      this.api = null;
      return;
    }
    this.began = Date.now();
    this.lesson = (/^#practise\/([^/]+)/.exec(location.hash) || [])[1];
    if (!["completed", "passed", "failed"].includes(this.get(this.says.completion))) this.set(this.says.completion, "incomplete");
    addEventListener("pagehide", () => this.end());
  },

  /** In the windows around this one, then in those around the one that opened it; one of
   * another origin tells nothing. */
  found(name) {
    for (const first of [window, window.opener]) {
      for (let one = first, last = null; one && one !== last; last = one, one = one.parent) {
        try {
          if (one[name]) return one[name];
        } catch {
          break;
        }
      }
    }
    return null;
  },

  get(name) {
    return this.api[this.says.get](name);
  },

  /** Whether it was taken. */
  set(name, value) {
    return this.api[this.says.set](name, value) === "true";
  },

  /** Hands over an attempt, if it is of the lesson that was opened; the best one stays. What
   * became of it, in words. */
  take({ id, passed, points, points_of }) {
    if (!this.api || (this.lesson && this.lesson !== id)) return "";
    const { says } = this;
    const stays = this.get(says.success) === "passed";
    const taken = [this.set(says.completion, "completed")];
    if (points_of > 0) {
      const percent = Math.round((10_000 * points) / points_of) / 100;
      const before = parseFloat(this.get(`${says.score}.raw`));
      if (!(before > percent)) {
        const all = { min: 0, max: 100, raw: percent, ...says.scaled && { scaled: percent / 100 } };
        for (const [name, value] of Object.entries(all)) taken.push(this.set(`${says.score}.${name}`, String(value)));
      }
      taken.push(this.set(says.success, passed || stays ? "passed" : "failed"));
    }
    taken.push(this.api[says.keep]("") === "true");
    return taken.every(Boolean) ? "Your result went to the learning platform." :
      "The learning platform did not take your result: save the record and hand it in.";
  },

  /** The time that was spent, and that it is over. */
  end() {
    if (!this.api) return;
    this.set(this.says.time, this.says.lasted((Date.now() - this.began) / 1000));
    // Else the platform forgets the score when the lesson is opened again.
    this.set(this.says.exit, "suspend");
    this.api[this.says.end]("");
    this.api = null;
  },
};

/** What each edition calls things. */
const SCORM_1_2 = {
  api: "API", begin: "LMSInitialize", get: "LMSGetValue", set: "LMSSetValue", keep: "LMSCommit", end: "LMSFinish",
  completion: "cmi.core.lesson_status", success: "cmi.core.lesson_status", score: "cmi.core.score", time: "cmi.core.session_time", exit: "cmi.core.exit",
  lasted: (s) => [s / 3600, (s / 60) % 60, s % 60].map((part) => String(Math.floor(part)).padStart(2, "0")).join(":"),
};
const SCORM_2004 = {
  api: "API_1484_11", begin: "Initialize", get: "GetValue", set: "SetValue", keep: "Commit", end: "Terminate", scaled: true,
  completion: "cmi.completion_status", success: "cmi.success_status", score: "cmi.score", time: "cmi.session_time", exit: "cmi.exit",
  lasted: (s) => `PT${Math.floor(s)}S`,
};
