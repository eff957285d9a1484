// The plan of practice: what is done, what comes next, how long the rest takes.

import assert from "node:assert/strict";
import { test } from "node:test";

import { momentOf, noteAt, Plan } from "../../../phrasing/page/static/plan.js";

const steps = [60, 90, 30].map((seconds) => ({ seconds }));

test("what is left is what is not done, at the speed it is played", () => {
  const plan = new Plan(steps, [1]);
  assert.equal(plan.left(), 90);
  assert.equal(plan.left(0.5), 180);
  assert.equal(plan.words(1), "1 of 3 done, 2 minutes left");
});

test("the next step is the next one that is not done", () => {
  const plan = new Plan(steps, [1]);
  assert.equal(plan.next(0), 0);
  assert.equal(plan.next(1), 2);
  plan.mark(2, true);
  assert.equal(plan.next(3), 2);
});

test("a mark can be taken back, and all done is said so", () => {
  const plan = new Plan(steps, [0, 1, 2, 9]);
  assert.equal(plan.words(1), "all 3 done");
  plan.mark(0, false);
  assert.equal(plan.words(1), "2 of 3 done, 1 minute left");
});

const step = { notes: [4, 5, 4], onset: [1, 2, 3], release: [1.8, 2.9, 3.5] };

test("a note sounds from its onset until it is let go", () => {
  assert.deepEqual([0.5, 1, 1.9, 2.5, 3.2, 4].map((s) => noteAt(step, s)), [null, 4, null, 5, 4, null]);
});

test("a note is found where it is played first, and not where it is not", () => {
  assert.equal(momentOf(step, 4), 1);
  assert.equal(momentOf(step, 7), null);
  assert.equal(momentOf({ notes: undefined }, 4), null);
});
