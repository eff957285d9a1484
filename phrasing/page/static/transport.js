// What is played, from where, how fast, and in which version.

import { Run, countIn, music, silence } from "./running.js";

const SOON = 0.04;      // seconds from a wish to its sound
const BETWEEN = 0.6;    // seconds between the plain and the shaped example

export class Transport {
  constructor(facts, sound) {
    this.bars = facts.bars;
    this.sound = sound;
    this.run = null;
    this.resume = null;         // after an example: where the place was before it
    this.start = -(facts.sound?.lead ?? 0);  // a band counts in before the music
    this.place = this.start;    // where the next run begins (seconds of the music)
    this.speed = 1;
    this.version = facts.shown ?? 0;
    this.loop = { on: false, first: 0, last: facts.bars.length - 1, count: "once" };
    this.changed = () => {};    // called after every change
    this.failed = () => {};     // called with a sentence where nothing can be played
    this.begun = () => {};      // called whenever sound begins
    setInterval(() => this.tend(), 50);
  }

  get playing() { return this.run !== null; }

  // What is being heard: see Run.at; where nothing sounds, the place to play from.
  get heard() {
    const heard = this.run && this.run.at(this.sound.heard);
    return heard || { kind: "still", place: this.place, version: this.version };
  }

  barAt(seconds) {
    const after = this.bars.findIndex((bar) => seconds < bar.to - 1e-4);
    return after < 0 ? this.bars.length - 1 : after;
  }

  tend() {
    if (!this.run) return;
    this.run.fill();
    if (this.run.over && this.sound.heard >= this.run.frame) this.finish();
  }

  finish() {
    this.run = null;
    this.place = this.resume ?? this.start;
    this.changed();
  }

  // Runs

  async toggle() {
    if (this.playing) this.pause(); else await this.play();
  }

  // Whether sound can begin; where it cannot, it has been said.
  async ready(...versions) {
    try {
      await this.sound.open();
      for (const version of versions) await this.unpacked(version);
    } catch (fault) {
      this.failed(fault.message);
      return false;
    }
    this.begun();
    return true;
  }

  async unpacked(version) {
    const fault = await this.sound.unpack(version);
    if (fault) throw new Error(fault);
  }

  async play() {
    if (!(await this.ready(this.version))) return;
    const { loop } = this;
    if (loop.on) this.place = this.bars[loop.first].from;
    if (this.place >= this.sound.end - 0.01) this.place = this.start;
    this.begin((place) => this.course(place, true), this.place);
  }

  pause() {
    if (!this.run) return;
    const { place } = this.heard;
    this.place = this.resume ?? place ?? this.place;
    this.run.stop(this.sound.now);
    this.run = null;
    this.changed();
  }

  begin(parts, place, resume = null) {
    const begins = this.sound.now + Math.round(SOON * this.sound.rate);
    if (this.run) this.run.stop(begins);
    Object.assign(this, { parts, resume });
    const { speed, version } = this;
    this.run = new Run(this.sound, parts(place), { speed, version, begins });
    this.run.fill();
    this.changed();
  }

  // The music from a place on: round the loop if there is one, else to the end. A fresh start
  // of the loop is counted in.
  * course(place, fresh) {
    const { loop, bars } = this;
    if (!loop.on) {
      yield music(place, this.sound.end);
      return;
    }
    const start = bars[loop.first].from;
    let from = fresh ? start : place;
    let counted = fresh && loop.count !== "none";
    for (;;) {
      if (counted) yield countIn(bars[loop.first]);
      yield music(from, bars[loop.last].to);
      from = start;
      counted = loop.count === "every";
    }
  }

  // The same bars plain, then shaped; then everything is as it was.
  async example([from, to], plain, shaped) {
    if (!(await this.ready(plain, shaped))) return;
    const resume = this.playing ? this.heard.place ?? this.place : this.place;
    const parts = function* () {
      yield music(from, to, plain);
      yield silence(BETWEEN);
      yield music(from, to, shaped);
    };
    this.begin(parts, from, this.resume ?? resume);
  }

  async playFrom(seconds) {
    if (!(await this.ready(this.version))) return;
    this.begin((place) => this.course(place, false), seconds);
  }

  // Goes on from another place, or at another speed, without a break.
  again(place) {
    if (!this.run) {
      this.place = place;
      this.changed();
    } else {
      this.begin((from) => this.course(from, false), place);
    }
  }

  // Wishes

  hear(version) {
    this.version = version;
    if (this.resume !== null && this.run) this.pause();
    if (this.run?.carries(version)) this.run.hear(version);
    else if (this.run) this.restart();
    this.changed();
  }

  // With a version that was not unpacked yet when this run began.
  async restart() {
    if (await this.ready(this.version)) this.again(this.heard.place ?? this.place);
  }

  setSpeed(speed) {
    this.speed = speed;
    if (!this.run) return this.changed();
    if (this.resume !== null) return this.begin(this.parts, 0, this.resume);
    const soon = this.run.at(this.sound.now + Math.round(SOON * this.sound.rate));
    if (soon && soon.kind === "music") this.again(soon.place);
    else this.play();
  }

  // A bar on or back; back goes to the start of this bar first.
  step(bars) {
    const place = this.heard.place ?? this.place;
    const here = this.barAt(place);
    const into = place - this.bars[here].from > Math.min(0.4, this.bars[here].beat);
    const target = bars < 0 && into ? here : here + bars;
    const [low, high] = this.loop.on ? [this.loop.first, this.loop.last] : [0, this.bars.length - 1];
    this.again(this.bars[Math.max(low, Math.min(high, target))].from);
  }

  setLoop(changes) {
    Object.assign(this.loop, changes);
    const { on, first, last } = this.loop;
    if (!this.run || this.resume !== null) {
      if (on) this.place = this.bars[first].from;
      return this.changed();
    }
    const here = this.barAt(this.heard.place ?? this.place);
    if (!on) this.again(this.heard.place ?? this.place);
    else if (here < first || here > last) this.play();
    else this.again(this.heard.place);
  }
}
