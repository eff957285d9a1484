// The buttons of the stand, and the display that follows the music.

import { byId } from "./elements.js";

export class Controls {
  constructor(facts, { sound, transport, score, blind, announcer }) {
    Object.assign(this, { facts, sound, transport, score, blind, announcer });
    this.place = facts.shown;             // the version button that is pressed
    this.sounds = false;                  // whether anything can be played
    this.seen = null;                     // which version was inked by the last picture
    this.buttons = [...document.querySelectorAll("#versions button")];
    this.play = byId("play");
    this.where = byId("where");
    this.thread = document.querySelector("#thread span");
    this.wire();
  }

  wire() {
    const { transport } = this;
    this.play.addEventListener("click", () => transport.toggle());
    this.buttons.forEach((button, place) => {
      button.addEventListener("click", () => this.turnTo(place));
    });
    byId("loop").addEventListener("click", () => this.toggleLoop());
    byId("more").addEventListener("click", () => this.openMore(byId("settings").hidden));
    // A click with a pointer gives the keyboard back to the page, so that space plays.
    document.addEventListener("click", ({ detail, target }) => {
      if (detail > 0) target.closest?.("button")?.blur();
    });
  }

  // From when on the versions that come first can be played.
  enable() {
    this.sounds = true;
    for (const control of document.querySelectorAll("[data-needs-sound]")) control.disabled = false;
    this.update();
    const draw = () => { this.draw(); requestAnimationFrame(draw); };
    requestAnimationFrame(draw);
  }

  openMore(open) {
    byId("settings").hidden = !open;
    byId("more").setAttribute("aria-expanded", String(open));
    if (open) byId("settings").querySelector("select, input")?.focus();
  }

  // Closes what is open, the last opened first; whether there was anything.
  close() {
    if (this.score.picking) {
      this.score.stopPicking();
      this.announcer.say("No bars were chosen.");
    } else if (!byId("settings").hidden) {
      this.openMore(false);
      byId("more").focus();
    } else {
      return false;
    }
    this.update();
    return true;
  }

  // Versions

  turnTo(place) {
    this.place = place;
    const version = this.blind.order[place];
    this.transport.hear(version);
    const { name, about } = this.facts.versions[version];
    this.announcer.say(this.blind.on ? "" : `${about ? "Another reading" : "Now"}: ${name}.`);
  }

  next() {
    this.turnTo((this.place + 1) % this.buttons.length);
  }

  // After the names were hidden or shown again.
  rearrange() {
    this.transport.hear(this.blind.order[this.place]);
    document.body.classList.toggle("blind", this.blind.on);
    this.update();
  }

  update() {
    const { transport, blind } = this;
    this.play.querySelector("span").textContent = transport.playing ? "Pause" : "Play";
    this.play.classList.toggle("playing", transport.playing);
    this.buttons.forEach((button, place) => {
      button.querySelector("span").textContent = blind.name(place);
      button.setAttribute("aria-pressed", String(place === this.place));
    });
    this.reveal(this.buttons[this.place]);
    byId("loop").setAttribute("aria-pressed", String(transport.loop.on || this.score.picking !== null));
    this.score.showLoop(transport.loop);
    this.ink(transport.heard.version);
  }

  // Where the versions have no room side by side, the one that is on is moved into sight.
  reveal(button) {
    const row = button.parentElement;
    const [outer, inner] = [row, button].map((each) => each.getBoundingClientRect());
    if (inner.left < outer.left) row.scrollLeft -= outer.left - inner.left;
    if (inner.right > outer.right) row.scrollLeft += inner.right - outer.right;
  }

  // What is inked is what sounds; while the names are hidden, every version looks plain.
  ink(version) {
    const shown = this.blind.on ? 0 : version;
    if (shown === this.seen) return;
    this.seen = shown;
    this.score.show(shown);
    const { about } = this.facts.versions[shown];
    byId("about-version").textContent = about ?? "";
    byId("about-version").hidden = !about;
  }

  // Loop

  // Off where one is on; else some bars are tapped for a new one.
  toggleLoop() {
    const { transport, score, announcer } = this;
    if (score.picking || transport.loop.on) {
      score.stopPicking();
      transport.setLoop({ on: false });
      announcer.say("The loop is off.");
    } else {
      score.startPicking();
      announcer.say("Tap the first bar, then the last one.");
      this.update();
    }
  }

  loopBars(first, last, done) {
    this.transport.setLoop({ on: true, first, last });
    this.tellLoop(done ? "" : " Now tap the last one.");
  }

  tellLoop(more = "") {
    const { on, first, last } = this.transport.loop;
    const [from, to] = [this.facts.bars[first].name, this.facts.bars[last].name];
    const words = first === last ? `Looping ${from}.` : `Looping ${from} to ${to}.`;
    this.announcer.say(on ? words + more : "The loop is off.");
  }

  playFrom(note) {
    const { transport } = this;
    const { bar } = this.facts.notes[note];
    const { on, first, last } = transport.loop;
    if (on && (bar < first || bar > last)) transport.loop.on = false;
    transport.playFrom(this.facts.versions[transport.version].onset[note]);
  }

  // What is heard now

  draw() {
    const { kind, place, version } = this.transport.heard;
    const music = kind === "music";
    this.ink(version);
    this.score.light(music ? this.noteAt(place, version) : null);
    const words = this.words(kind, place, version);
    if (this.where.textContent !== words) this.where.textContent = words;
    if (place !== null) this.drawThread(place);
  }

  // How far the music is, as a line under the stand.
  drawThread(place) {
    const { bars } = this.facts;
    const whole = bars.at(-1).to - bars[0].from;
    const share = Math.min(1, Math.max(0, (place - bars[0].from) / whole)).toFixed(4);
    if (share === this.share) return;
    this.share = share;
    this.thread.style.transform = `scaleX(${share})`;
  }

  // In an example, which version is being heard comes first.
  words(kind, place, version) {
    if (kind === "count") return "count-in";
    if (kind === "silence") return "";
    const example = this.transport.resume !== null && this.transport.playing;
    const name = example ? `${this.facts.versions[version].name}: ` : "";
    return name + this.barAndBeat(place);
  }

  // The note that sounds: from its onset until it is let go or the next one begins. While the
  // names are hidden, every version shows the same.
  noteAt(place, version) {
    const { onset, release } = this.facts.versions[this.blind.on ? 0 : version];
    let note = onset.findIndex((seconds) => seconds > place) - 1;
    if (note === -2) note = onset.length - 1;
    return note >= 0 && (this.blind.on || place < release[note]) ? note : null;
  }

  barAndBeat(place) {
    const { bars } = this.facts;
    if (place >= bars.at(-1).to) return "the end";
    const bar = bars[this.transport.barAt(place)];
    const beat = Math.floor((place - bar.from) / bar.beat + bar.offset + 1e-3) + 1;
    return `${bar.name}, beat ${Math.min(Math.max(1, beat), Math.ceil(bar.meter))}`;
  }
}
