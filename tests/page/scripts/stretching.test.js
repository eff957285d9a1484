// Slower and faster at the same pitch: every onset keeps its place, nothing else is promised.

import assert from "node:assert/strict";
import { test } from "node:test";

import { Stretcher, Tape } from "../../../phrasing/page/static/stretching.js";

const RATE = 8000;

// A tone that is struck anew at every onset.
function struck(onsets, length) {
  const samples = new Float32Array(length);
  onsets.forEach((onset, k) => {
    const end = onsets[k + 1] ?? length;
    for (let i = onset; i < end; i++) {
      samples[i] = Math.exp(-(i - onset) / 1500) * Math.sin((i - onset) * 0.35);
    }
  });
  return samples;
}

const onsets = [2000, 4100, 5000, 9000];
const tape = new Tape([struck(onsets, 12000)], onsets, RATE);

function read(speed, from, total, pieces = 400) {
  const reader = new Stretcher(tape, from, speed);
  const all = [];
  while (all.length < total) all.push(...reader.read(pieces)[0]);
  return all.slice(0, total);
}

test("at its own speed a recording is copied sample for sample", () => {
  assert.deepEqual(read(1, 1000, 8000), [...tape.channels[0].subarray(1000, 9000)]);
});

test("before its start and behind its end a recording is silent", () => {
  assert.deepEqual(read(1, -100, 100), Array.from({ length: 100 }, () => 0));
  assert.deepEqual(read(1, 12000, 100), Array.from({ length: 100 }, () => 0));
});

for (const speed of [0.5, 0.7, 1.2]) {
  test(`at ${speed} every attack is where it belongs, copied as it is`, () => {
    const from = 1000;
    const out = read(speed, from, Math.floor(10000 / speed));
    for (const onset of onsets.slice(0, 3)) {
      const at = Math.round((onset - from) / speed);
      const wanted = tape.channels[0].subarray(onset, onset + 60);
      const got = out.slice(at, at + 60);
      const worst = Math.max(...got.map((value, i) => Math.abs(value - wanted[i])));
      assert.ok(worst < 0.15, `onset ${onset}: ${worst}`);
    }
  });
}

test("what is read does not depend on the size of the pieces", () => {
  assert.deepEqual(read(0.7, 1000, 6000, 64), read(0.7, 1000, 6000, 1000));
});

test("the first onset at or after a frame is found", () => {
  assert.deepEqual([0, 2000, 2001, 9000, 9001].map((f) => tape.onsetFrom(f)), [0, 0, 1, 3, 4]);
});

test("what is laid later is faded in over a seam, and can then be played", () => {
  const late = new Tape([new Float32Array(1000)], [], RATE);
  late.until = 0;
  late.lay([new Float32Array(600).fill(1)], 0, 0);
  assert.equal(late.until, 600);
  late.lay([new Float32Array(500).fill(3)], 500, 100);
  assert.equal(late.until, 1000);
  const [samples] = late.channels;
  assert.deepEqual([samples[499], samples[600], samples[999]], [1, 3, 3]);
  for (let i = 500; i < 599; i++) assert.ok(samples[i] < samples[i + 1]);
});
