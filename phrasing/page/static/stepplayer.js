// Plays the steps of a plan through the engine of the listening page: slower at the same pitch,
// some bars or the whole step round and round without a gap.

import { byId } from "./elements.js";
import { Stepping } from "./player.js";
import { Run, music } from "./running.js";
import { Sound } from "./sound.js";

const SOON = 0.04;      // seconds from a wish to its sound

// The sound of one step, all of it in one piece; the way to the loudspeaker is the same for all.
class StepSound extends Sound {
  constructor({ sound, struck, title }, number, way) {
    super({ sound: { ...sound, starts: 0 }, versions: [{ name: title, struck }] });
    Object.assign(this, { number, way });
  }

  coded(_, place) { return byId(`step-${this.number}-${place}`).textContent; }

  connect() {
    if (!this.way.context) {
      super.connect();
      Object.assign(this.way, { context: this.context, out: this.out });
    }
    this.context = this.way.context;
    this.out = this.way.out;
  }

  // The step's recording as a file, for the media element.
  file() {
    return URL.createObjectURL(new Blob([this.bytes(0, 0)], { type: "audio/mpeg" }));
  }
}

export class StepPlayer extends Stepping {
  constructor(steps) {
    super();
    this.steps = steps;
    this.way = {};              // to the loudspeaker, once somebody pressed Play
    this.step = 0;
    this.speed = 1;
    this.volume = 0;
    this.looping = false;
    this.bars = null;           // the bars that are looped, null for the whole step
    this.resting = 0;           // seconds of the step from which the next run plays
    this.run = null;
    this.changed = () => {};    // called after every change
    this.begun = () => {};      // called whenever sound begins
    this.finished = () => {};   // called with the step that was played to its end
    this.failed = () => {};     // called with a sentence where nothing can be played
    setInterval(() => this.tend(), 50);
  }

  get playing() { return this.run !== null; }

  // Seconds from the start of the step.
  get place() {
    return (this.run && this.run.at(this.sound.heard)?.place) ?? this.resting;
  }

  // Share of the step that has been played, 0 to 1.
  get share() { return Math.min(1, this.place / this.steps[this.step].seconds); }

  // From when to when it goes round: some bars, or the whole step in whole bars.
  get round() {
    const { times, first, whole } = this.steps[this.step];
    if (!this.bars || !times) return whole;
    const [from, to] = this.bars;
    return [times[from - first][0], times[to - first][1]];
  }

  tend() {
    if (!this.run) return;
    this.run.fill();
    if (this.run.over && this.sound.heard >= this.run.frame) this.finish();
  }

  finish() {
    this.rest(0);
    this.finished(this.step);
  }

  rest(seconds) {
    this.run = null;
    this.resting = seconds;
    this.changed();
  }

  load(step) {
    this.stop();
    this.step = Math.max(0, Math.min(this.steps.length - 1, step));
    this.sound = new StepSound(this.steps[this.step], this.step, this.way);
    this.sound.interrupted = () => this.pause();
    this.sound.setVolume(this.volume);
    this.bars = null;
    this.rest(0);
  }

  stop() {
    if (this.run) this.run.stop(this.sound.now);
    this.run = null;
  }

  async play() {
    const { sound } = this;
    try {
      await sound.open();
      const fault = await sound.unpack(0);
      if (fault) throw new Error(fault);
    } catch (fault) {
      this.failed(fault.message);
      return;
    }
    if (sound !== this.sound) return;
    sound.setVolume(this.volume);
    this.begin(this.resting >= sound.end - 0.01 ? 0 : this.resting);
  }

  begin(from) {
    const { sound, speed } = this;
    const begins = sound.now + Math.round(SOON * sound.rate);
    if (this.run) this.run.stop(begins);
    this.run = new Run(sound, this.course(from), { speed, version: 0, begins });
    this.run.fill();
    this.begun();
    this.changed();
  }

  * course(from) {
    if (!this.looping) {
      yield music(from, this.sound.end);
      return;
    }
    const [start, end] = this.round;
    let at = from >= start && from < end - 0.01 ? from : start;
    for (;;) {
      yield music(at, end);
      at = start;
    }
  }

  pause() {
    if (!this.run) return;
    const { place } = this;
    this.stop();
    this.rest(place);
  }

  seek(seconds) {
    this.resting = seconds;
    if (this.run) this.begin(seconds);
    else this.changed();
  }

  // Goes on from where it is, as it is wished now.
  again() {
    if (this.run) this.begin(this.place);
    else this.changed();
  }

  setLoop(on, bars = null) {
    this.looping = on;
    this.bars = bars;
    this.again();
  }

  setSpeed(speed) {
    if (speed === this.speed) return;
    this.speed = speed;
    this.again();
  }

  setVolume(percent) {
    this.volume = percent;
    this.sound?.setVolume(percent);
  }
}
