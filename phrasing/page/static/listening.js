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

const LATER = 500;      // milliseconds until those are unpacked
const FIRST = 2;        // versions that are unpacked before the page plays; the others later

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

// Unpacks the versions that are likely to be heard first; the page plays from then on.
async function unpack() {
  const start = transport.version;
  const order = [start, ...facts.versions.keys()].filter((v, k, all) => all.indexOf(v) === k);
  let left = Math.min(FIRST, order.length);
  announcer.say("Unpacking the sound.");
  for (const [done, version] of order.entries()) {
    byId("versions").dataset.unpacked = done;
    if (left <= 0) await idle();
    const fault = await sound.unpack(version);
    if (fault) announcer.say(fault);
    else if (--left === 0) begin();
  }
  byId("versions").dataset.unpacked = order.length;
  if (!controls.sounds && left < FIRST) begin();
}

function begin() {
  if (byId("said").textContent.startsWith("Unpacking")) announcer.clear();
  controls.enable();
}

// A moment in which the first note has time to sound, then one in which nothing else is to do.
const idle = () => new Promise((resolve) => {
  setTimeout(() => (globalThis.requestIdleCallback ?? setTimeout)(resolve), LATER);
});

wire();
new Keys(transport, controls, reasons, facts);
openForPrint();
settings.restore();
settings.update();
controls.update();
if (sound) unpack();
