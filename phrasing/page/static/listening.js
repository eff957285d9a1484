// Puts the parts of the listening page together.

import { byId } from "./elements.js";
import { Announcer } from "./saying.js";
import { Sound } from "./sound.js";
import { Transport } from "./transport.js";
import { Turns } from "./turns.js";
import { Follower } from "./following.js";
import { Score } from "./score.js";
import { Reasons } from "./reasons.js";
import { Blind } from "./blind.js";
import { Controls } from "./controls.js";
import { Settings } from "./settings.js";
import { Keys } from "./keys.js";
import { openForPrint } from "./printing.js";

const FIRST = 2;        // versions that begin to be unpacked before the page plays
const LATER = 500;      // milliseconds until the rest is

const facts = JSON.parse(byId("facts").textContent);
const announcer = new Announcer(byId("said"));
const sound = facts.sound && new Sound(facts);
const transport = new Transport(facts, sound);
const score = new Score(facts, new Follower(byId("stand"), byId("note")), {
  chosen: (note, focus) => reasons.choose(note, focus),
  looped: (first, last, done) => controls.loopBars(first, last, done),
});
const reasons = new Reasons(facts, score, {
  ready: () => controls.sounds,
  playFrom: (note) => controls.playFrom(note),
  example: (range) => transport.example(range, 0, facts.shown),
  say: (words) => announcer.say(words),
});
const blind = new Blind(facts, () => controls.rearrange());
const controls = new Controls(facts, { sound, transport, score, blind, announcer });
const settings = new Settings(facts, { sound, transport, controls });
const turns = new Turns(() => {
  if (!transport.playing) return;
  transport.pause();
  announcer.say("Another page began to play, so this one paused.");
});

// What happens to the sound, and what is said of it.
function wire() {
  transport.changed = () => { controls.update(); settings.update(); };
  transport.failed = (words) => announcer.say(words);
  transport.begun = () => turns.take();
  if (sound) {
    sound.interrupted = () => {
      if (!transport.playing) return;
      transport.pause();
      announcer.say("The sound was interrupted. Press Play to go on.");
    };
  }
}

// Unpacks the beginnings of the versions that are likely to be heard first; the page plays from
// then on. Their ends and the other versions follow.
async function unpack() {
  const start = transport.version;
  const order = [start, ...facts.versions.keys()].filter((v, k, all) => all.indexOf(v) === k);
  announcer.say("Unpacking the sound.");
  let left = Math.min(FIRST, order.length);
  for (const version of order.slice(0, FIRST)) {
    if (!tell(await sound.unpack(version))) left -= 1;
  }
  if (left === 0) begin();
  await parsed();
  if (left === 0) await later();
  for (const [done, version] of order.entries()) {
    byId("versions").dataset.unpacked = done;
    await idle();
    if (!tell(await sound.unpack(version)) && !tell(await sound.complete(version)) && left > 0) {
      left = 0;
      begin();
    }
  }
  byId("versions").dataset.unpacked = order.length;
}

// Says a fault, if there is one.
function tell(fault) {
  if (fault) announcer.say(fault);
  return fault;
}

// When all of the page is there, what stands behind this script too.
const parsed = () => new Promise((resolve) => {
  if (document.readyState !== "loading") resolve();
  else document.addEventListener("DOMContentLoaded", resolve, { once: true });
});

function begin() {
  if (byId("said").textContent.startsWith("Unpacking")) announcer.clear();
  controls.enable();
}

// After a while in which the first note has time to sound; when nothing else is to do.
const later = () => new Promise((resolve) => { setTimeout(resolve, LATER); });
const idle = () => new Promise((resolve) => {
  (globalThis.requestIdleCallback ?? setTimeout)(resolve);
});

wire();
new Keys(transport, controls, reasons, facts);
openForPrint();
settings.restore();
settings.update();
controls.update();
if (sound) unpack();
