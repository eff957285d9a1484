"""What a page sends to the loudspeaker, recorded sample by sample, and what it lights up.

An audio worklet beside the loudspeaker notes the samples with their frames on the context's
clock; beside it, the note that is lit is noted at every picture that the screen shows.
"""

from __future__ import annotations

import base64
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

RECORDER = """
(() => {
  const connect = AudioNode.prototype.connect;
  const worklet = `registerProcessor("tap", class extends AudioWorkletProcessor {
    constructor() { super(); this.start(); }
    start() { this.samples = new Float32Array(2048); this.frames = []; }
    process([input]) {
      if (input[0]) this.samples.set(input[0], this.frames.length * 128);
      this.frames.push(currentFrame);
      if (this.frames.length === 16) {
        this.port.postMessage([this.frames, this.samples]);
        this.start();
      }
      return true;
    }
  });`;
  window.tap = { blocks: [], seen: [] };
  AudioNode.prototype.connect = function (to, ...rest) {
    const { context } = this;
    if (to instanceof AudioDestinationNode && context instanceof AudioContext && !tap.context) {
      tap.context = context;
      const url = `data:text/javascript,${encodeURIComponent(worklet)}`;
      context.audioWorklet.addModule(url).then(() => {
        const node = new AudioWorkletNode(context, "tap");
        node.port.onmessage = ({ data }) => tap.blocks.push(data);
        connect.call(this, node);
        connect.call(node, to);
      });
      const look = () => {
        const late = context.outputLatency || context.baseLatency || 0;
        const spot = document.querySelector(".spot.sounding");
        tap.seen.push([context.currentTime - late, spot ? Number(spot.dataset.note) : -1]);
        requestAnimationFrame(look);
      };
      requestAnimationFrame(look);
    }
    return connect.call(this, to, ...rest);
  };
})();
"""
COLLECT = """
() => {
  const blocks = tap.blocks;
  const samples = new Float32Array(blocks.length * 2048);
  blocks.forEach(([, block], k) => samples.set(block, k * 2048));
  const bytes = new Uint8Array(samples.buffer);
  let text = "";
  for (let i = 0; i < bytes.length; i += 32768) {
    text += String.fromCharCode(...bytes.subarray(i, i + 32768));
  }
  return { frames: blocks.flatMap(([frames]) => frames), samples: btoa(text), seen: tap.seen,
           rate: tap.context.sampleRate };
}
"""
QUANTUM = 128
"""Frames that a browser computes at a time (Web Audio API 1.1, render quantum)."""
Samples = NDArray[np.float32]


@dataclass(frozen=True)
class Heard:
    """A recording: ``samples`` from ``first`` (frame of the context's clock) on, where the
    first sound is.

    ``seen``: rows of (seconds on that clock, number of the lit note or -1).
    """

    first: int
    samples: Samples
    seen: NDArray[np.float64]
    rate: int

    def at(self, seconds: float, length: float) -> Samples:
        """Some seconds of it, counted from its start."""
        start = round(seconds * self.rate)
        return self.samples[start : start + round(length * self.rate)]

    @property
    def starts(self) -> int:
        """The sample at which the first sound begins."""
        return int(np.argmax(np.abs(self.samples) > 0.0))


def warm_up(page: Any) -> None:
    """Start the page's sound once and stop it, until the tap runs; what it took is dropped."""
    page.click("#play")
    page.wait_for_function("tap.blocks.length > 4")
    page.click("#play")
    page.keyboard.press("Home")
    page.wait_for_timeout(200)
    page.evaluate("() => { tap.blocks.length = tap.seen.length = 0; }")


def heard(page: Any) -> Heard:
    """All that was recorded so far."""
    found = page.evaluate(COLLECT)
    frames = np.array(found["frames"])
    quanta = np.frombuffer(base64.b64decode(found["samples"]), np.float32).reshape(-1, QUANTUM)
    sounding = int(np.argmax(np.abs(quanta).max(axis=1) > 0.0))
    # The worklet's clock may stand still for a few quanta and catch up; it runs ahead of the
    # count only where something is missing.
    counted = frames[sounding] + QUANTUM * np.arange(len(frames) - sounding)
    assert (frames[sounding:] <= counted).all(), "the recording has gaps"
    first = int(frames[sounding])
    samples = quanta[sounding:].reshape(-1)
    return Heard(first, samples, np.array(found["seen"]), int(found["rate"]))


def found_in(tape: Samples, piece: Samples) -> tuple[int, float]:
    """Where on a tape a piece is, and how alike they are there (1: the same but for gain)."""
    size = 1 << int(np.ceil(np.log2(len(tape) + len(piece))))
    spectrum = np.fft.rfft(tape, size) * np.conj(np.fft.rfft(piece, size))
    product = np.fft.irfft(spectrum, size)[: len(tape) - len(piece) + 1]
    squares = np.concatenate([[0.0], np.cumsum(tape.astype(np.float64) ** 2)])
    power = squares[len(piece) :] - squares[: -len(piece)]
    alike = product / np.sqrt(np.maximum(power, 1e-9) * float(np.sum(piece**2)) + 1e-12)
    at = int(np.argmax(alike))
    return at, float(alike[at])
