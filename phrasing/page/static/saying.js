// One place where the page says what has just happened: to the eye, and to a screen reader.

export class Announcer {
  constructor(line) {
    this.line = line;
  }

  say(words) {
    if (this.line.textContent !== words) this.line.textContent = words;
  }

  clear() { this.say(""); }
}
