// What is mixed while the lever moves.

import assert from "node:assert/strict";
import { test } from "node:test";

import { shares } from "../../../phrasing/desk/static/lever.js";

test("the shares add up to one, whatever has come", () => {
  for (const strength of [0, 0.2, 0.5, 0.8, 1]) {
    for (const now of [0, 0.5, 1]) {
      for (const hasFull of [false, true]) {
        const { plain, shaped, full } = shares(strength, now, hasFull);
        assert.ok(Math.abs(plain + shaped + full - 1) < 1e-9);
        assert.ok(Math.min(plain, shaped, full) >= 0);
      }
    }
  }
});

test("at its ends it is one version alone", () => {
  assert.deepEqual(shares(0, 1, false), { plain: 1, shaped: 0, full: 0 });
  assert.deepEqual(shares(1, 1, false), { plain: 0, shaped: 1, full: 0 });
  assert.deepEqual(shares(0.4, 0.4, true), { plain: 0, shaped: 1, full: 0 });
  assert.deepEqual(shares(1, 0.4, true), { plain: 0, shaped: 0, full: 1 });
});

test("beyond what is played it is the shaped version until the full one has come", () => {
  assert.deepEqual(shares(0.9, 0.5, false), { plain: 0, shaped: 1, full: 0 });
  assert.deepEqual(shares(0.75, 0.5, true), { plain: 0, shaped: 0.5, full: 0.5 });
});
