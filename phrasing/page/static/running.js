// One uninterrupted run of playing. All versions are laid down together, piece by piece, each
// through its own gain; which one is heard is only a matter of the gains.

import { Stretcher } from "./stretching.js";

const PIECE = 0.2;      // seconds laid down at a time
const AHEAD = 1.0;      // seconds laid down in advance, and while the page is not seen
const AHEAD_UNSEEN = 3;
const MARGIN = 0.2;     // seconds of the recording beyond them that slowing down may look at
const CROSSFADE = 0.02; // seconds from one version to another
const EASE_IN = 0.003, EASE_OUT = 0.008;

// What a run is made of: music from one moment to another (of one version, if it names one),
// a count-in, a silence.
export const music = (from, to, version) => ({ kind: "music", from, to, version });
export const silence = (seconds) => ({ kind: "silence", seconds });
export const countIn = (bar) => ({ kind: "count", bar });

export class Run {
  constructor(sound, parts, { speed, version, begins }) {
    Object.assign(this, { sound, parts, speed, version });
    this.frame = begins;                // where the next piece goes on the context's clock
    this.begins = begins;
    this.laid = [];
    this.sources = [];
    this.over = false;
    this.gate = sound.context.createGain();
    this.gate.connect(sound.out);
    this.gains = sound.tapes.map((_, number) => {
      const gain = sound.context.createGain();
      gain.gain.value = number === version ? 1 : 0;
      gain.connect(this.gate);
      return gain;
    });
  }

  fill() {
    const ahead = document.hidden ? AHEAD_UNSEEN : AHEAD;
    const { now, rate } = this.sound;
    if (!this.over && this.frame < now) this.frame = now + Math.round(0.05 * rate);
    while (!this.over && this.frame < now + ahead * rate && this.unpacked) this.layNext();
    this.laid = this.laid.filter((piece) => piece.ends > now - 2 * rate);
    this.sources = this.sources.filter((source) => !source.ended);
  }

  // Whether what comes next is there in every version: of some, the end is unpacked later.
  get unpacked() {
    const { part, speed, sound } = this;
    if (!part?.readers) return true;
    const needed = part.from + (part.at + (PIECE + MARGIN) * sound.rate) * speed;
    return part.readers.every((reader) =>
      !reader || reader.tape.until >= Math.min(needed, reader.tape.channels[0].length));
  }

  layNext() {
    if (!this.part) {
      const next = this.parts.next();
      this.over = Boolean(next.done);
      if (!this.over) this.part = this.opened(next.value);
      return;
    }
    const lay = { music: this.layMusic, count: this.layCount, silence: this.laySilence };
    lay[this.part.kind].call(this, this.part);
  }

  opened(part) {
    if (part.kind !== "music") return part;
    const { sound, speed } = this;
    const from = sound.frame(part.from);
    if (part.version !== undefined) this.turnTo(part.version);
    return {
      ...part,
      from,
      at: 0,
      length: Math.max(1, Math.round((sound.frame(part.to) - from) / speed)),
      readers: sound.tapes.map((tape) => tape && new Stretcher(tape, from, speed)),
    };
  }

  layMusic(part) {
    const { rate } = this.sound;
    const count = Math.min(Math.round(PIECE * rate), part.length - part.at);
    part.readers.forEach((reader, number) => {
      if (!reader) return;
      const channels = reader.read(count);
      for (const samples of channels) eased(samples, part.at, part.length, rate);
      this.start(channels, this.frame, this.gains[number]);
    });
    this.log(count, "music", this.sound.seconds(part.from + part.at * this.speed));
    part.at += count;
    if (part.at >= part.length) this.part = null;
  }

  layCount({ bar }) {
    const beat = bar.beat / this.speed * this.sound.rate;
    for (let k = 0; k < bar.count; k++) {
      const click = this.sound.click(k % bar.meter === 0);
      this.start(click, this.frame + Math.round(k * beat), this.gate);
    }
    this.log(Math.round(bar.count * beat), "count", bar.from);
    this.part = null;
  }

  laySilence({ seconds }) {
    this.log(Math.round(seconds * this.sound.rate), "silence", null);
    this.part = null;
  }

  start(channels, frame, to) {
    const source = this.sound.start(channels, frame, to);
    source.addEventListener("ended", () => { source.ended = true; source.disconnect(); });
    this.sources.push(source);
  }

  log(count, kind, place) {
    const begins = this.frame;
    this.frame += count;
    this.laid.push({ begins, ends: this.frame, kind, place, version: this.version });
  }

  // From the next piece on, one version alone.
  turnTo(version) {
    this.version = version;
    const when = this.frame / this.sound.rate;
    this.gains.forEach((gain, k) => gain.gain.setValueAtTime(k === version ? 1 : 0, when));
  }

  // Whether a version is laid down here: one that was unpacked later is not.
  carries(version) {
    return this.part?.readers === undefined || this.part.readers[version] !== null;
  }

  // At once, with a short crossfade.
  hear(version) {
    this.version = version;
    const now = this.sound.context.currentTime;
    this.gains.forEach((gain, k) => {
      gain.gain.cancelScheduledValues(now);
      gain.gain.setTargetAtTime(k === version ? 1 : 0, now, CROSSFADE / 4);
    });
    for (const piece of this.laid) {
      if (piece.ends > this.sound.now) piece.version = version;
    }
  }

  // Several versions at once, each by its share of the sound (0 to 1).
  mix(shares) {
    const now = this.sound.context.currentTime;
    this.gains.forEach((gain, k) => {
      gain.gain.cancelScheduledValues(now);
      gain.gain.setTargetAtTime(shares[k] ?? 0, now, CROSSFADE / 2);
    });
  }

  // What is to be heard at a frame: the kind, the moment of the music, the version.
  at(frame) {
    const piece = this.laid.find(({ ends }) => frame < ends);
    if (!piece) return null;
    const since = Math.max(0, frame - piece.begins) * this.speed / this.sound.rate;
    return { ...piece, place: piece.kind === "music" ? piece.place + since : piece.place };
  }

  stop(frame) {
    const when = Math.max(frame / this.sound.rate, this.sound.context.currentTime);
    this.gate.gain.setTargetAtTime(0, when, EASE_OUT / 4);
    for (const source of this.sources) if (!source.ended) source.stop(when + 2 * EASE_OUT);
    this.over = true;
  }
}

// A piece of a part eased in at the part's start and out at its end, so that nothing clicks.
function eased(samples, at, length, rate) {
  const first = EASE_IN * rate, last = EASE_OUT * rate;
  for (let i = 0; i < samples.length && at + i < first; i++) samples[i] *= (at + i) / first;
  for (let i = samples.length - 1; i >= 0 && length - at - i < last; i--) {
    samples[i] *= Math.max(0, length - at - i) / last;
  }
}
