// What the page keeps between two answers: the way to the planner, the steps of undo, answers that took long.
class Asking {
  constructor(key, fail) {
    this.key = key;
    this.fail = fail; // is told "ended" or "refused"
    this.page = crypto.randomUUID();
  }

  // The planner's answer to a question; what it works out for this page only the newest question gets.
  async ask(what, more, signal) {
    const headers = { "x-planner-key": this.key, "content-type": "application/json" };
    let answer;
    try {
      answer = await fetch("/api/" + what, { method: "POST", headers, body: JSON.stringify({ page: this.page, ...more }), signal });
    } catch (error) {
      if (error.name !== "AbortError") this.fail("ended");
      throw error;
    }
    if (answer.status === 403) {
      this.fail("refused");
      throw new Error("refused");
    }
    return answer;
  }
}

// Texts one after the other, and the one that holds.
class Steps {
  static MOST = 200;
  static MOST_HELD = 5e6; // characters in all

  constructor() {
    this.texts = [];
    this.at = -1;
  }

  remember(text) {
    this.texts.splice(this.at + 1);
    this.texts.push(text);
    let held = this.texts.reduce((sum, one) => sum + one.length, 0);
    while (this.texts.length > 1 && (this.texts.length > Steps.MOST || held > Steps.MOST_HELD)) held -= this.texts.shift().length;
    this.at = this.texts.length - 1;
  }

  // The text `by` steps on, null where there is none.
  go(by) {
    if (this.texts[this.at + by] === undefined) return null;
    this.at += by;
    return this.texts[this.at];
  }

  get canUndo() {
    return this.at > 0;
  }

  get canRedo() {
    return this.at < this.texts.length - 1;
  }
}

// Slow answers by what was asked, so that undo shows them at once; the oldest are forgotten.
class Answers extends Map {
  static MOST = 40;

  keep(key, value) {
    this.delete(key);
    this.set(key, value);
    while (this.size > Answers.MOST) this.delete(this.keys().next().value);
  }
}
