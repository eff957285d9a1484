// What is played, from where, and what follows: the transport without a browser.

import assert from "node:assert/strict";
import { after, test } from "node:test";

const timers = [];
const { setInterval: real } = globalThis;
globalThis.setInterval = (run) => { timers.push(run); return 0; };
globalThis.document = { hidden: false };
const { Transport } = await import("../../../phrasing/page/static/transport.js");
const { Tape } = await import("../../../phrasing/page/static/stretching.js");
after(() => { globalThis.setInterval = real; });

const RATE = 1000;
const bars = [0, 1, 2, 3].map((k) => ({
  number: k + 1, name: `bar ${k + 1}`, from: 2 * k, to: 2 * k + 2, beat: 0.5, meter: 4, count: 4,
}));

const still = { setValueAtTime() {}, cancelScheduledValues() {}, setTargetAtTime() {} };
const gain = () => ({ connect() {}, gain: { value: 1, ...still } });

// A sound whose clock is turned by hand, and that only notes what is started on it.
function silentSound() {
  return {
    rate: RATE, now: 0, end: 9, tapes: [null, null], started: [], fault: null,
    get heard() { return this.now; },
    context: { createGain: gain, get currentTime() { return 0; } },
    frame: (seconds) => Math.round(seconds * RATE),
    seconds: (frame) => frame / RATE,
    async open() { if (this.fault) throw new Error(this.fault); },
    async unpack() { return null; },
    start(channels, frame) {
      this.started.push(frame);
      return { addEventListener() {}, stop() {} };
    },
    click: () => [new Float32Array(10)],
  };
}

function made() {
  const sound = silentSound();
  const transport = new Transport({ bars, shown: 1, sound: { lead: 0 } }, sound);
  return { sound, transport };
}

test("a page opens with the version that it shows", () => {
  assert.equal(made().transport.version, 1);
});

test("a moment belongs to its bar, the tail to the last", () => {
  const { transport } = made();
  assert.deepEqual([0, 1.99, 2, 7.9, 12].map((s) => transport.barAt(s)), [0, 0, 1, 3, 3]);
});

test("a loop is counted in once, then goes round without a gap", () => {
  const { transport } = made();
  Object.assign(transport.loop, { on: true, first: 1, last: 2 });
  const course = transport.course(2, true);
  const parts = [1, 2, 3].map(() => course.next().value);
  assert.deepEqual(parts.map(({ kind }) => kind), ["count", "music", "music"]);
  assert.deepEqual(parts.slice(1).map(({ from, to }) => [from, to]), [[2, 6], [2, 6]]);
});

test("a loop can be counted in every time, or never", () => {
  const { transport } = made();
  Object.assign(transport.loop, { on: true, first: 0, last: 0 });
  for (const [count, kinds] of [["every", "count music count"], ["none", "music music music"]]) {
    transport.loop.count = count;
    const course = transport.course(0, true);
    assert.equal([1, 2, 3].map(() => course.next().value.kind).join(" "), kinds);
  }
});

test("a sound that cannot begin is told, and nothing plays", async () => {
  const { sound, transport } = made();
  sound.fault = "no sound here";
  let said = "";
  transport.failed = (words) => { said = words; };
  await transport.play();
  assert.equal(said, "no sound here");
  assert.equal(transport.playing, false);
});

test("a pause keeps the place that was heard", async () => {
  const { sound, transport } = made();
  await transport.play();
  sound.now = 840;
  transport.tend();
  sound.now = 1540;
  transport.pause();
  assert.equal(transport.place, 1.5);
});

test("back goes to the start of the bar, and from there to the one before", () => {
  const { transport } = made();
  transport.place = 5;
  transport.step(-1);
  assert.equal(transport.place, 4);
  transport.step(-1);
  assert.equal(transport.place, 2);
});

test("steps stay inside a loop", () => {
  const { transport } = made();
  transport.setLoop({ on: true, first: 1, last: 2 });
  transport.step(-1);
  assert.equal(transport.place, 2);
  for (let k = 0; k < 5; k++) transport.step(1);
  assert.equal(transport.place, 4);
});

test("what is not unpacked yet is waited for, and then goes on where it was", async () => {
  const { sound, transport } = made();
  const tape = new Tape([new Float32Array(9 * RATE)], [], RATE);
  tape.until = 2 * RATE;
  sound.tapes = [null, tape];
  await transport.play();
  const turn = (to) => { sound.now = to; transport.tend(); };
  for (let now = 0; now < 6 * RATE; now += RATE / 10) turn(now);
  const before = sound.started.length;
  assert.ok(sound.started.every((frame) => frame < 2.2 * RATE));
  tape.until = 9 * RATE;
  turn(6 * RATE);
  assert.ok(sound.started.length > before);
  const heard = transport.run.at(6.1 * RATE);
  assert.ok(heard.place > 1.4 && heard.place < 2.1);
});
