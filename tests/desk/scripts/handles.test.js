// Which edge of a block is taken, and what its number becomes.

import assert from "node:assert/strict";
import { test } from "node:test";

import { edgeAt, moved } from "../../../phrasing/desk/static/handles.js";

const block = { left: 100, right: 140, top: 50 };

test("the right edge is the length, the upper one the level, the middle neither", () => {
  assert.equal(edgeAt(block, 139, 80), "gate");
  assert.equal(edgeAt(block, 120, 52), "level");
  assert.equal(edgeAt(block, 120, 80), null);
  assert.equal(edgeAt(block, 120, 30), null);
  assert.equal(edgeAt(block, 80, 52), null);
});

test("a number goes with the pointer, and no farther than it may", () => {
  const level = { value: 3, least: -40, most: 24 };
  assert.equal(moved(level, "level", 0, -10, 5), 5);
  assert.equal(moved(level, "level", 99, 10, 5), 1);
  assert.equal(moved(level, "level", 0, -1000, 5), 24);
  const gate = { value: 0.5, least: 0.05, most: 1.5 };
  assert.equal(moved(gate, "gate", 20, 99, 100), 0.7);
  assert.equal(moved(gate, "gate", -90, 0, 100), 0.05);
});
