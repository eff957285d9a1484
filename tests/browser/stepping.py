"""A page on a stepped clock: its sound is rendered offline, and nothing waits on real time.

The page's audio context is replaced by an offline one, which computes the same graph sample by
sample, and only as far as a test lets it; the page's interval timers and pictures go on with
it, in steps. So a test is exact, and independent of how busy the machine is.
"""

from __future__ import annotations

import base64
from typing import Any

import numpy as np

from tests.browser.recorder import Heard

SECONDS = 60
"""The longest that a test may play."""
TICK = 10
"""Milliseconds to a step: a picture, and the timers that are due."""
STEPPED = """
(() => {
  const Offline = OfflineAudioContext;
  const { suspend, resume } = Offline.prototype;
  const timers = [], pictures = [];
  const stepped = { clock: 0, context: null, seen: [], begun: 0 };
  window.stepped = stepped;
  performance.now = () => stepped.clock;
  window.setInterval = (run, every) => timers.push({ run, every, next: stepped.clock + every });
  window.requestAnimationFrame = (draw) => pictures.push(draw);
  window.AudioContext = class extends Offline {
    constructor({ sampleRate }) {
      super(2, SECONDS * sampleRate, sampleRate);
      stepped.context = this;
      stepped.begun = stepped.clock;
      stepped.started = suspend.call(this, 0);
      stepped.rendered = this.startRendering();
    }
    get state() { return stepped.lost ? "interrupted" : "running"; }
    resume() { return Promise.resolve(); }
    lose() { stepped.lost = true; this.dispatchEvent(new Event("statechange")); }
  };
  const later = setTimeout;
  const tooLong = () => new Promise((_, refuse) => {
    later(() => refuse(new Error("the sound was not rendered")), 60000);
  });
  const renderTo = async (clock) => {
    await stepped.started;
    const reached = suspend.call(stepped.context, (clock - stepped.begun) / 1000);
    resume.call(stepped.context);
    await Promise.race([reached, tooLong()]);
  };
  const tick = async () => {
    stepped.clock += TICK;
    if (stepped.context) await renderTo(stepped.clock);
    for (const timer of timers) {
      if (timer.next > stepped.clock) continue;
      timer.next += timer.every;
      timer.run();
    }
    for (const draw of pictures.splice(0)) draw(stepped.clock);
    const spot = document.querySelector(".spot.sounding");
    const now = stepped.context ? stepped.context.currentTime : 0;
    stepped.seen.push([now, spot ? Number(spot.dataset.note) : -1]);
  };
  stepped.run = async (seconds) => {
    for (let k = 0; k < Math.round(seconds * 1000 / TICK); k++) await tick();
  };
  stepped.until = async (done, most) => {
    for (let k = 0; k < most * 1000 / TICK && !done(); k++) await tick();
    return done();
  };
  stepped.heard = async () => {
    const until = Math.round(stepped.context.currentTime * stepped.context.sampleRate);
    resume.call(stepped.context);
    const samples = (await stepped.rendered).getChannelData(0).slice(0, until);
    const bytes = new Uint8Array(samples.buffer);
    let text = "";
    for (let i = 0; i < bytes.length; i += 32768) {
      text += String.fromCharCode(...bytes.subarray(i, i + 32768));
    }
    return { samples: btoa(text), seen: stepped.seen, rate: stepped.context.sampleRate };
  };
})();
""".replace("SECONDS", str(SECONDS)).replace("TICK", str(TICK))


def run(page: Any, seconds: float) -> None:
    """Let so many seconds of the page's time pass."""
    page.evaluate("seconds => stepped.run(seconds)", seconds)


def run_until(page: Any, condition: str, most: float = 20.0) -> None:
    """Let time pass until a condition (JavaScript) holds; fails where it never does."""
    assert page.evaluate(f"most => stepped.until(() => {condition}, most)", most), condition


def heard(page: Any) -> Heard:
    """All that was played so far; the page cannot go on after that."""
    found = page.evaluate("() => stepped.heard()")
    samples = np.frombuffer(base64.b64decode(found["samples"]), np.float32)
    first = int(np.argmax(np.abs(samples) > 0.0))
    return Heard(first, samples[first:], np.array(found["seen"]), int(found["rate"]))
