// The versions' sound from the desk's server: whole, and a changed stretch put into it.

import { Sound } from "./sound.js";
import { Tape } from "./stretching.js";
import { bytes } from "./talking.js";

export const RATE = 44100;
const SEAM = 0.006;     // seconds of crossfade at both ends of a stretch
const BREATH = 0.5;     // seconds between before and after
const TAIL = 0.6;       // seconds after a change in which it dies away

export class DeskSound extends Sound {
  constructor(facts, name) {
    super({ sound: { rate: RATE, frames: 0, starts: 0.1, lead: 0 }, versions: facts.versions });
    this.name = name;
    this.last = null;                     // the last stretch: where it is, as it was, as it is
  }

  path(what, number) {
    const version = encodeURIComponent(this.versions[number].name);
    return `/${what}/${encodeURIComponent(this.name)}?version=${version}`;
  }

  async decoded(number) {
    const { content, headers } = await bytes(this.path("sound", number));
    this.facts.starts = Number(headers.get("Music-Starts"));
    const channels = await this.channels(content);
    this.facts.frames = Math.max(this.facts.frames, channels[0].length);
    return new Tape(channels, this.onsets(number), RATE);
  }

  // What comes from the server comes whole.
  async complete() { return null; }

  async channels(content) {
    const whole = await new OfflineAudioContext(2, 1, RATE).decodeAudioData(content);
    return [0, 1].map((c) => whole.getChannelData(c).slice());
  }

  // Where the shaped version at full strength is kept while the lever needs it: behind all.
  get fullAt() { return this.versions.length; }

  // A version at full strength, where it is not played so already.
  async unpackFull(number, strength) {
    if (strength >= 1 || this.tapes[this.fullAt]) return;
    const versions = this.versions;
    const { content } = await bytes(`${this.path("sound", number)}&strength=1`);
    const tape = new Tape(await this.channels(content), this.onsets(number), RATE);
    if (versions === this.versions) this.tapes[this.fullAt] = tape;
  }

  dropFull() { this.tapes.length = this.versions.length; }

  // The whole of a version as it is now; what plays goes on with the old one until it is there.
  async exchange(number, versions) {
    this.versions = versions;
    const tape = await this.decoded(number);
    if (versions !== this.versions) return;
    this.tapes = versions.map((_, k) => (k === 0 ? this.tapes[0] : null));
    this.last = this.last && { number, at: 0, old: this.last.now, now: tape };
    this.tapes[number] = tape;
  }

  // Other versions than before: nothing that was unpacked is right any more.
  renew(versions) {
    this.versions = versions;
    this.tapes = versions.map(() => null);
    this.facts.frames = 0;
    this.last = null;
  }

  // Play the seconds from and to of a version anew, and put them into its tape.
  async mend(number, versions, [from, to]) {
    this.versions = versions;
    this.dropFull();
    const tape = this.tapes[number];
    if (!tape) return false;
    const start = Math.max(0, from + this.facts.starts - 2 * SEAM);
    const end = Math.min(tape.channels[0].length / RATE, to + this.facts.starts + TAIL);
    const where = `&from=${start.toFixed(5)}&to=${end.toFixed(5)}`;
    const { content } = await bytes(this.path("stretch", number) + where);
    const channels = await this.channels(content);
    this.last = { number, at: Math.round(start * RATE), old: tape, now: mended(tape, start, channels) };
    this.last.now.onsets = this.onsets(number);
    this.turnLast(true);
    return true;
  }

  // Some seconds without a step and with it, as channels to be played one after the other.
  async beforeAndAfter(number, step, [from, to]) {
    const [start, end] = [Math.max(0, from + this.facts.starts), to + this.facts.starts];
    const where = `${this.path("stretch", number)}&from=${start.toFixed(5)}&to=${end.toFixed(5)}`;
    const both = [bytes(`${where}&without=${step}`), bytes(where)];
    return Promise.all(both.map(async (each) => this.channels((await each).content)));
  }

  // Play these one after the other, with a breath between them.
  inTurn(pieces) {
    let at = this.now + Math.round(0.05 * RATE);
    for (const channels of pieces) {
      this.start(channels, at, this.out);
      at += channels[0].length + Math.round(BREATH * RATE);
    }
  }

  // Whether the last change is heard as it is now, or as it was before.
  turnLast(now) {
    if (!this.last) return;
    this.tapes[this.last.number] = now ? this.last.now : this.last.old;
  }
}

// A tape with other samples from a moment on, faded in and out at the seams.
function mended(tape, start, channels) {
  const at = Math.round(start * RATE), seam = Math.round(SEAM * RATE);
  const whole = tape.channels.map((samples, c) => {
    const copy = samples.slice();
    const count = Math.min(channels[c].length, copy.length - at);
    for (let i = 0; i < count; i++) {
      const share = Math.min(1, i / seam, (count - i) / seam);
      copy[at + i] += share * (channels[c][i] - copy[at + i]);
    }
    return copy;
  });
  return new Tape(whole, tape.onsets, RATE);
}
