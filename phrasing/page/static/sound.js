// The recordings, all versions decoded beside each other, and the way to the loudspeaker.

import { byId } from "./elements.js";
import { Tape } from "./stretching.js";

const UNTRIMMED = 200;  // frames more than recorded: the decoder left the encoder's delay in
const CLICK = { seconds: 0.04, strong: 1500, weak: 1100, loud: 0.25 };
const PATIENCE = 2000;  // milliseconds that a browser gets to let the sound begin

export const NO_SOUND = "This browser cannot play sound from a page. Open the page in another one.";
export const HELD_BACK = "The browser holds the sound back. Press Play once more.";
const DAMAGED = "cannot be played in this browser: its recording does not open.";

const pause = (milliseconds) =>
  new Promise((resolve) => { setTimeout(resolve, milliseconds); });

function bytesOf(base64) {
  if (Uint8Array.fromBase64) return Uint8Array.fromBase64(base64);
  const text = atob(base64.trim());
  const bytes = new Uint8Array(text.length);
  for (let i = 0; i < text.length; i++) bytes[i] = text.charCodeAt(i);
  return bytes;
}

export class Sound {
  constructor(facts) {
    this.facts = facts.sound;
    this.versions = facts.versions;
    this.tapes = facts.versions.map(() => null);
    this.volume = 0;
    this.interrupted = () => {};     // called when the browser takes the sound away
  }

  get rate() { return this.facts.rate; }

  // The frame at which a moment of the music is found, and back.
  frame(seconds) { return Math.round((seconds + this.facts.starts) * this.rate); }
  seconds(frame) { return frame / this.rate - this.facts.starts; }

  // Seconds of music until the last sound has died away.
  get end() { return this.seconds(this.facts.frames); }

  // Unpack the first piece of a version; a sentence where it cannot be done, null where it is.
  unpack(number) {
    return this.tried(number, async () => { this.tapes[number] ??= await this.decoded(number); });
  }

  // The same for all that comes behind it.
  complete(number) {
    return this.tried(number, async () => {
      const { pieces, seam } = this.facts;
      const tape = this.tapes[number];
      if (!tape) return;
      for (let k = 1; k < pieces.length; k++) {
        if (tape.until >= pieces[k].start + pieces[k].frames) continue;
        tape.lay(await this.piece(number, k), pieces[k].start, seam);
      }
    });
  }

  async tried(number, action) {
    if (!globalThis.OfflineAudioContext) return NO_SOUND;
    try {
      await action();
      return null;
    } catch {
      return `“${this.versions[number].name}” ${DAMAGED}`;
    }
  }

  async decoded(number) {
    const first = await this.piece(number, 0);
    const channels = first.map(() => new Float32Array(this.facts.frames));
    const tape = new Tape(channels, this.onsets(number), this.rate);
    tape.until = 0;
    tape.lay(first, 0, 0);
    return tape;
  }

  // The frames at which the notes of a version begin.
  onsets(number) {
    return this.versions[number].struck.map((seconds) => this.frame(seconds));
  }

  bytes(number, place) { return bytesOf(this.coded(number, place)); }

  // A piece of a version as the page carries it.
  coded(number, place) { return byId(`sound-${number}-${place}`).textContent; }

  async piece(number, place) {
    const { frames, delay } = this.facts.pieces[place];
    const coded = this.bytes(number, place);
    const whole = await new OfflineAudioContext(2, 1, this.rate).decodeAudioData(coded.buffer);
    const skip = whole.length > frames + UNTRIMMED ? delay : 0;
    return [...Array(whole.numberOfChannels).keys()].map((c) =>
      whole.getChannelData(c).subarray(skip, skip + frames));
  }

  // Browsers let a page sound only after somebody touched it. Throws a sentence for them.
  async open() {
    if (!globalThis.AudioContext) throw new Error(NO_SOUND);
    if (!this.context) this.connect();
    await Promise.race([this.context.resume(), pause(PATIENCE)]);
    if (this.context.state !== "running") throw new Error(HELD_BACK);
  }

  connect() {
    // What is played here is meant to be heard, whatever a phone's switch for its bells says.
    if (navigator.audioSession) navigator.audioSession.type = "playback";
    this.context = new AudioContext({ sampleRate: this.rate });
    this.out = this.context.createGain();
    this.out.gain.value = this.volume;
    this.out.connect(this.context.destination);
    this.context.addEventListener("statechange", () => {
      if (this.context.state !== "running") this.interrupted();
    });
  }

  // The frame of the context's own clock that is now being computed.
  get now() { return Math.round(this.context.currentTime * this.rate); }

  // The frame that is now being heard.
  get heard() {
    const late = this.context.outputLatency || this.context.baseLatency || 0;
    return this.now - Math.round(late * this.rate);
  }

  // Percent; the ear takes loudness rather by the square.
  setVolume(percent) {
    this.volume = (percent / 100) ** 2;
    if (this.out) this.out.gain.setTargetAtTime(this.volume, this.context.currentTime, 0.01);
  }

  // Start some frames at an exact frame of the context's clock.
  start(channels, frame, to) {
    const buffer = this.context.createBuffer(channels.length, channels[0].length, this.rate);
    channels.forEach((samples, c) => buffer.copyToChannel(samples, c));
    const source = this.context.createBufferSource();
    source.buffer = buffer;
    source.connect(to);
    source.start(frame / this.rate);
    return source;
  }

  click(strong) {
    const samples = new Float32Array(Math.round(CLICK.seconds * this.rate));
    const turn = 2 * Math.PI * (strong ? CLICK.strong : CLICK.weak) / this.rate;
    for (let i = 0; i < samples.length; i++) {
      const left = 1 - i / samples.length;
      samples[i] = CLICK.loud * Math.sin(turn * i) * left ** 4;
    }
    return [samples];
  }
}
