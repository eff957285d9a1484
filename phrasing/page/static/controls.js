// The buttons, fields and sliders, and the display that follows the music.

import { byId } from "./elements.js";

export class Controls {
  constructor(facts, sound, transport, score, blind) {
    Object.assign(this, { facts, sound, transport, score, blind });
    this.place = 0;                       // the version button that is pressed
    this.sounds = false;                  // whether everything can be played
    this.buttons = [...document.querySelectorAll("#versions button")];
    this.play = byId("play");
    this.where = byId("where");
    this.said = byId("said");
    transport.changed = () => this.update();
    this.wire();
  }

  wire() {
    const { transport } = this;
    this.play.addEventListener("click", () => transport.toggle());
    this.buttons.forEach((button, place) => {
      button.addEventListener("click", () => this.turnTo(place));
    });
    byId("loop").addEventListener("click", () => this.toggleLoop());
    for (const id of ["loop-from", "loop-to"]) {
      byId(id).addEventListener("change", () => this.typeLoop(id));
      byId(id).addEventListener("keydown", ({ key }) => {
        if (key === "Enter") this.typeLoop(id, true);
      });
    }
    byId("count").addEventListener("change", (event) =>
      transport.setLoop({ count: event.target.value }));
    byId("speed").addEventListener("input", () => this.showSpeed());
    byId("speed").addEventListener("change", (event) =>
      transport.setSpeed(Number(event.target.value) / 100));
    byId("volume").addEventListener("input", () => this.setVolume());
    // A click with a pointer gives the keyboard back to the page, so that space plays.
    document.addEventListener("click", ({ detail, target }) => {
      if (detail > 0) target.closest?.("button")?.blur();
    });
  }

  async ready() {
    if (!this.sound) return;
    this.showSpeed();
    this.setVolume();
    try {
      await this.sound.decode();
    } catch {
      this.said.textContent = "This browser cannot play the recordings of this page.";
      return;
    }
    this.sounds = true;
    for (const control of document.querySelectorAll("[data-needs-sound]")) control.disabled = false;
    this.said.textContent = "";
    this.update();
    const draw = () => { this.draw(); requestAnimationFrame(draw); };
    requestAnimationFrame(draw);
  }

  // Versions

  turnTo(place) {
    this.place = place;
    this.transport.hear(this.blind.order[place]);
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
    this.play.textContent = transport.playing ? "Pause" : "Play";
    this.buttons.forEach((button, place) => {
      button.querySelector("span").textContent = blind.name(place);
      button.setAttribute("aria-pressed", String(place === this.place));
    });
    const { on, first, last } = transport.loop;
    byId("loop").setAttribute("aria-pressed", String(on));
    byId("loop-from").value = this.facts.bars[first].number;
    byId("loop-to").value = this.facts.bars[last].number;
    this.score.showLoop(transport.loop);
    this.score.show(blind.on ? 0 : this.facts.versions[transport.version].sheet);
  }

  // Loop, speed, volume

  toggleLoop() {
    const { loop } = this.transport;
    this.transport.setLoop({ on: !loop.on });
    this.tellLoop();
  }

  // A bar typed into one of the fields; the other follows where it would lie on its wrong side.
  typeLoop(id, on = this.transport.loop.on) {
    const { bars } = this.facts;
    const number = Number(byId(id).value);
    let { first, last } = this.transport.loop;
    const after = id === "loop-to" ? first : 0;
    let bar = bars.findIndex((each, index) => each.number === number && index >= after);
    if (bar < 0) bar = bars.findIndex((each) => each.number === number);
    if (bar < 0) {
      this.said.textContent = `There is no bar ${number} in this piece.`;
      this.update();
      return;
    }
    [first, last] = id === "loop-from" ? [bar, Math.max(bar, last)] : [Math.min(first, bar), bar];
    this.transport.setLoop({ on, first, last });
    if (on) this.tellLoop();
    else this.said.textContent = "";
  }

  tellLoop() {
    const { on, first, last } = this.transport.loop;
    const [from, to] = [this.facts.bars[first].name, this.facts.bars[last].name];
    const words = first === last ? `Looping ${from}.` : `Looping ${from} to ${to}.`;
    this.said.textContent = on ? words : "The loop is off.";
  }

  showSpeed() {
    const percent = Number(byId("speed").value);
    const tempo = Math.round(this.facts.tempo * percent / 100);
    byId("speed-said").textContent = `${percent} %, ♩ = ${tempo}`;
    byId("speed").setAttribute(
      "aria-valuetext", `${percent} percent, ${tempo} quarter notes a minute`);
  }

  setVolume() {
    const percent = Number(byId("volume").value);
    byId("volume-said").textContent = `${percent} %`;
    this.sound.setVolume(percent);
  }

  playFrom(note) {
    const { transport } = this;
    const bar = this.facts.notes[note].bar;
    const { on, first, last } = transport.loop;
    if (on && (bar < first || bar > last)) transport.loop.on = false;
    transport.playFrom(this.facts.versions[transport.version].onset[note]);
  }

  // What is heard now

  draw() {
    const { kind, place, version } = this.transport.heard;
    const music = kind === "music";
    this.score.light(music ? this.noteAt(place, version) : null);
    const words = this.words(kind, place, version);
    if (this.where.textContent !== words) this.where.textContent = words;
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
    const bar = this.facts.bars[this.transport.barAt(place)];
    const beat = Math.floor((place - bar.from) / bar.beat + bar.offset + 1e-3) + 1;
    return `${bar.name}, beat ${Math.max(1, beat)}`;
  }
}
