// Slower and faster at the same pitch. Windows of the recording are laid over each other, each
// taken from where it continues the one before best. Around an onset the recording is copied
// as it is, so that attacks keep their bite and every onset lands exactly where it belongs:
// versions stay together at every speed.

const WINDOW = 0.04;    // seconds: two periods of the lowest notes of wind players
const SEARCH = 0.01;    // seconds to each side in which the best continuation is sought
const COARSE = 4;       // samples that are taken as one in the first search

function mixed(channels) {
  const mix = new Float32Array(channels[0].length);
  for (const channel of channels) {
    for (let i = 0; i < mix.length; i++) mix[i] += channel[i];
  }
  return mix;
}

function thinned(mix) {
  const thin = new Float32Array(Math.floor(mix.length / COARSE));
  for (let i = 0; i < thin.length; i++) {
    for (let k = 0; k < COARSE; k++) thin[i] += mix[i * COARSE + k];
  }
  return thin;
}

function likeness(samples, a, b, count) {
  let product = 0, power = 1e-9;
  if (a < 0 || b < 0 || a + count > samples.length || b + count > samples.length) return 0;
  for (let i = 0; i < count; i++) {
    product += samples[a + i] * samples[b + i];
    power += samples[b + i] * samples[b + i];
  }
  return product / Math.sqrt(power);
}

// One version of the recording: its samples, and the frames at which its notes begin. It can
// be played up to a frame, behind which more is laid later.
export class Tape {
  constructor(channels, onsets, rate) {
    this.channels = channels;
    this.onsets = onsets;
    this.until = channels[0].length;
    this.half = Math.round(WINDOW * rate / 2 / COARSE) * COARSE;
    this.reach = Math.round(SEARCH * rate);
    this.rising = Float32Array.from(
      { length: this.half }, (_, i) => 0.5 - 0.5 * Math.cos(Math.PI * (i + 0.5) / this.half));
  }

  get mix() {
    this.mixedDown ??= mixed(this.channels);
    return this.mixedDown;
  }

  get thin() {
    this.thinnedOut ??= thinned(this.mix);
    return this.thinnedOut;
  }

  // Lay samples down from a frame on, faded in over as many as a seam has.
  lay(channels, start, seam) {
    channels.forEach((samples, c) => {
      const laid = this.channels[c];
      for (let i = 0; i < seam; i++) {
        const share = (i + 0.5) / seam;
        laid[start + i] += share * (samples[i] - laid[start + i]);
      }
      laid.set(samples.subarray(seam, laid.length - start), start + seam);
    });
    this.until = start + channels[0].length;
    this.mixedDown = this.thinnedOut = undefined;
  }

  // Index of the first onset at or after a frame.
  onsetFrom(frame) {
    let low = 0, high = this.onsets.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (this.onsets[middle] < frame) low = middle + 1; else high = middle;
    }
    return low;
  }
}

// Reads a tape from a frame on at a speed, in order, piece by piece.
export class Stretcher {
  constructor(tape, from, speed) {
    Object.assign(this, { tape, from, speed });
    this.window = -1;                     // number of the last window laid down
    this.taken = from - tape.half;        // frame at which it was taken
    this.given = 0;                       // frames given out
    this.ready = tape.channels.map(() => new Float32Array(0));
    this.falling = tape.channels.map(() => new Float32Array(tape.half));
  }

  read(count) {
    return this.speed === 1 ? this.copied(count) : this.stretched(count);
  }

  copied(count) {
    const start = this.from + this.given;
    this.given += count;
    return this.tape.channels.map((channel) => piece(channel, start, count));
  }

  stretched(count) {
    while (this.ready[0].length < count) this.layNext();
    const given = this.ready.map((samples) => samples.slice(0, count));
    this.ready = this.ready.map((samples) => samples.slice(count));
    return given;
  }

  layNext() {
    const { half, rising, channels } = this.tape;
    this.window += 1;
    this.taken = this.choose(this.window);
    const laid = this.falling.map((before, c) => {
      const now = piece(channels[c], this.taken, 2 * half);
      const sum = new Float32Array(half);
      for (let i = 0; i < half; i++) {
        sum[i] = before[i] + now[i] * rising[i];
        before[i] = now[half + i] * rising[half - 1 - i];
      }
      return sum;
    });
    if (this.window > 0) this.ready = this.ready.map((old, c) => joined(old, laid[c]));
  }

  // The frame from which to take a window. Its output begins at (number - 1) * half.
  choose(number) {
    const { half, reach } = this.tape;
    if (number === 0) return this.from - half;
    const begins = (number - 1) * half;
    const copied = this.around(begins);
    if (copied !== null) return copied;
    const middle = this.from + (begins + half) * this.speed - half;
    const [low, high] = this.between(begins);
    const centre = Math.round(Math.max(low, Math.min(high, middle)));
    const first = Math.max(centre - reach, Math.min(low, centre));
    const last = Math.min(centre + reach, Math.max(high, centre));
    return this.bestIn(first, last, this.around(begins + half));
  }

  // Where a window must be taken so that the onset inside it keeps its place; null without.
  around(begins) {
    const { onsets, half } = this.tape;
    const into = (k) => (onsets[k] - this.from) / this.speed - begins;
    const first = this.tape.onsetFrom(this.from + begins * this.speed);
    let nearest = null;
    for (let k = first; k < onsets.length && into(k) < 2 * half; k++) {
      if (nearest === null || Math.abs(into(k) - half) < Math.abs(into(nearest) - half)) {
        nearest = k;
      }
    }
    return nearest === null ? null : Math.round(onsets[nearest] - into(nearest));
  }

  // The frames between which a window without an onset may be taken: none may be in it.
  between(begins) {
    const { onsets, half } = this.tape;
    const next = this.tape.onsetFrom(this.from + begins * this.speed);
    const low = next > 0 ? onsets[next - 1] : 0;
    const high = next < onsets.length ? onsets[next] - 2 * half : Infinity;
    return low <= high ? [low, high] : [(low + high) / 2, (low + high) / 2];
  }

  // The place that continues the last window best, and leads best into the next where that
  // one is given.
  bestIn(first, last, next) {
    const { mix, thin, half } = this.tape;
    const score = (samples, step, at) => {
      const alike = (a, b) =>
        likeness(samples, Math.round(a / step), Math.round(b / step), half / step);
      const goesOn = alike(this.taken + half, at);
      return next === null ? goesOn : goesOn + alike(next, at + half);
    };
    const rough = best(first, last, COARSE, (at) => score(thin, COARSE, at));
    return best(
      Math.max(first, rough - COARSE), Math.min(last, rough + COARSE), 1,
      (at) => score(mix, 1, at));
  }
}

function best(first, last, step, score) {
  let at = first, highest = -Infinity;
  for (let place = first; place <= last; place += step) {
    const value = score(place);
    if (value > highest) [at, highest] = [place, value];
  }
  return at;
}

// Some frames of a channel, silence where it has none.
function piece(channel, start, count) {
  const samples = new Float32Array(count);
  const from = Math.max(0, start), to = Math.min(channel.length, start + count);
  if (to > from) samples.set(channel.subarray(from, to), from - start);
  return samples;
}

function joined(first, second) {
  const both = new Float32Array(first.length + second.length);
  both.set(first);
  both.set(second, first.length);
  return both;
}
