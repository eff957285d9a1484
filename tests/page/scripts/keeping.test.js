// Links and memory: what an address asks for, and what it says of what is heard.

import assert from "node:assert/strict";
import { test } from "node:test";

import { asked, barName, linked, Memory } from "../../../phrasing/page/static/keeping.js";

const bars = [0, 1, 2, 1, 2, 3].map((number) => ({ number }));
const facts = { bars, versions: [{ name: "plain" }, { name: "shaped" }, { name: "a & b" }] };

test("bars are named by number, the pickup by its word, a second time by a point", () => {
  assert.deepEqual(bars.map((_, k) => barName(bars, k)), ["pickup", "1", "2", "1.2", "2.2", "3"]);
});

test("a link asks for bars, speed and version", () => {
  const wishes = asked("#bars=1-2.2&speed=60&version=shaped", facts);
  assert.deepEqual(wishes, { first: 1, last: 4, speed: 0.6, version: 1 });
});

test("what a link says that this piece has not is passed over", () => {
  assert.deepEqual(asked("#bars=7-9&speed=fast&version=nobody", facts), {});
  assert.deepEqual(asked("#bars=3-1", facts), {});
  assert.deepEqual(asked("", facts), {});
});

test("a speed beyond the slider becomes its end", () => {
  assert.equal(asked("#speed=1", facts).speed, 0.5);
  assert.equal(asked("#speed=900", facts).speed, 1.2);
});

test("a link that is written asks for the same when it is read", () => {
  const state = { loop: { on: true, first: 0, last: 3 }, speed: 0.75, version: 2 };
  assert.deepEqual(asked(linked(state, facts), facts),
    { first: 0, last: 3, speed: 0.75, version: 2 });
});

test("without a place to keep things, nothing is kept and nothing fails", () => {
  const memory = new Memory("x");
  memory.write({ speed: 1 });
  assert.deepEqual(memory.read(), {});
});
