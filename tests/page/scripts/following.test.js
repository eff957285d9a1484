// When the page scrolls with the music, and when it leaves the reader alone.

import assert from "node:assert/strict";
import { test } from "node:test";

import { shouldFollow } from "../../../phrasing/page/static/following.js";

const view = { top: 60, bottom: 600 };
const first = { top: 100, bottom: 250 }, below = { top: 620, bottom: 770 };
const idle = 60000;

test("the next line is gone to from the line that was in sight", () => {
  assert.equal(shouldFollow({ last: first, next: below, view, idle }), true);
});

test("a line that is all in sight stays where it is", () => {
  assert.equal(shouldFollow({ last: first, next: { top: 260, bottom: 410 }, view, idle }), false);
});

test("who reads elsewhere is not pulled back", () => {
  const above = { top: -400, bottom: -250 };
  assert.equal(shouldFollow({ last: above, next: { top: -240, bottom: -90 }, view, idle }), false);
});

test("who has just scrolled is left alone", () => {
  assert.equal(shouldFollow({ last: first, next: below, view, idle: 500 }), false);
});

test("a line of which a part is hidden is brought into sight", () => {
  assert.equal(shouldFollow({ last: first, next: { top: 500, bottom: 650 }, view, idle }), true);
});
