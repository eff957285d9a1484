// Two ways to play a step: the engine while the page is seen, and the media element, which a
// phone goes on playing while its screen is off. What plays is handed from one to the other.

import { Stepping } from "./player.js";

// Where pages sleep when they are not seen: on what is held in the hand.
const sleeps = () => matchMedia("(pointer: coarse)").matches;

export class Handover extends Stepping {
  constructor(engine, element) {
    super();
    Object.assign(this, { engine, element });
    this.now = engine;
    this.touched = false;       // whether the element may play by itself later
    for (const name of ["changed", "begun", "finished", "failed"]) this[name] = () => {};
    for (const way of [engine, element]) this.listen(way);
    document.addEventListener("visibilitychange", () => this.turn());
  }

  listen(way) {
    way.changed = () => this.changed();
    way.begun = () => this.begun();
    way.failed = (words) => { if (way === this.now) this.failed(words); };
    way.finished = (step) => { if (way === this.now) this.finished(step); };
  }

  // To the element where the page goes out of sight, and back to the engine.
  turn() {
    const next = document.hidden && sleeps() ? this.element : this.engine;
    if (next === this.now) return;
    const { playing, place } = this.now;
    this.now.pause();
    this.now = next;
    if (next === this.element) this.element.load(this.step);
    next.seek(place);
    if (playing) next.play();
  }

  get step() { return this.engine.step; }
  get speed() { return this.engine.speed; }
  get looping() { return this.engine.looping; }
  get bars() { return this.engine.bars; }
  get playing() { return this.now.playing; }
  get place() { return this.now.place; }
  get share() { return this.now.share; }

  load(step) {
    this.engine.load(step);
    if (this.now === this.element) this.element.load(this.step);
  }

  play() {
    this.touch();
    return this.now.play();
  }

  pause() { this.now.pause(); }

  // Phones let an element play by itself only after somebody's touch made it play once.
  touch() {
    if (this.touched || !sleeps() || this.now !== this.engine) return;
    this.touched = true;
    this.element.load(this.step);
    this.element.unlock();
  }

  seek(seconds) { this.now.seek(seconds); }

  setLoop(on, bars = null) {
    this.engine.setLoop(on, bars);
    this.element.setLoop(on, on && bars ? this.engine.round : null);
  }

  setSpeed(speed) {
    for (const way of [this.engine, this.element]) way.setSpeed(speed);
  }

  setVolume(percent) {
    for (const way of [this.engine, this.element]) way.setVolume(percent);
  }
}
