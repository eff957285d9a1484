// The blocks under the notes as handles: the upper edge for the level, the right edge for the
// length, of every note that has the same mark.

const NEAR = 9;             // pixels from an edge in which it is taken
const PER_PIXEL = { level: 0.12, gate: 0.008 };

// Which edge of a block a pointer is at; null where at none.
export function edgeAt({ left, right, top }, x, y) {
  if (y < top - NEAR || x < left - NEAR || x > right + NEAR) return null;
  if (Math.abs(x - right) <= NEAR) return "gate";
  return Math.abs(y - top) <= NEAR ? "level" : null;
}

// What a number becomes when its edge was moved by so many pixels.
export function moved({ value, least, most }, edge, dx, dy) {
  const by = edge === "gate" ? dx * PER_PIXEL.gate : -dy * PER_PIXEL.level;
  const step = edge === "gate" ? 100 : 10;
  return Math.round(Math.min(most, Math.max(least, value + by)) * step) / step;
}

export class Handles {
  constructor(root, { markOf, numberOf, set, say }) {
    Object.assign(this, { root, markOf, numberOf, set, say });
    root.addEventListener("pointerdown", (event) => this.take(event), { capture: true });
    root.addEventListener("pointermove", (event) => this.move(event), { capture: true });
    root.addEventListener("pointerup", (event) => this.release(event), { capture: true });
    root.addEventListener("pointercancel", () => this.drop());
  }

  // The block whose edge is under the pointer: the drawing lets pointers through.
  found({ clientX, clientY, target }) {
    const system = target.closest?.("svg.system");
    for (const block of system?.querySelectorAll(".layer:not(.off) .front rect, .front rect") ?? []) {
      if (block.closest(".off") || !block.dataset.note) continue;
      const edge = edgeAt(block.getBoundingClientRect(), clientX, clientY);
      const mark = edge && this.markOf(Number(block.dataset.note));
      if (mark) return { block, edge, mark, number: this.numberOf(mark, edge) };
    }
    return null;
  }

  take(event) {
    const found = event.button === 0 ? this.found(event) : null;
    if (!found?.number) return;
    event.stopPropagation();
    event.preventDefault();
    this.held = { ...found, x: event.clientX, y: event.clientY, box: this.boxOf(found.block) };
    this.root.setPointerCapture?.(event.pointerId);
  }

  boxOf(block) {
    const number = (name) => Number(block.getAttribute(name));
    return { y: number("y"), width: number("width"), height: number("height") };
  }

  move(event) {
    const { held } = this;
    if (!held) {
      if (event.pointerType === "mouse") {
        const edge = this.found(event)?.edge;
        this.root.classList.toggle("at-level", edge === "level");
        this.root.classList.toggle("at-gate", edge === "gate");
      }
      return;
    }
    event.stopPropagation();
    held.value = moved(held.number, held.edge, event.clientX - held.x, event.clientY - held.y);
    this.draw(held, event);
    const words = held.edge === "gate" ? `sounds for ${Math.round(held.value * 100)} % of its length`
      : `${held.value > 0 ? "+" : "−"}${Math.abs(held.value)} dB`;
    this.say(`Every ${held.mark}: ${words}.`);
  }

  draw({ block, box, edge, x, y }, event) {
    const scale = block.ownerSVGElement.getScreenCTM()?.a || 1;
    if (edge === "gate") {
      block.setAttribute("width", Math.max(1, box.width + (event.clientX - x) / scale));
    } else {
      const by = Math.min((event.clientY - y) / scale, box.height - 1);
      block.setAttribute("y", box.y + by);
      block.setAttribute("height", box.height - by);
    }
  }

  release(event) {
    const { held } = this;
    if (!held) return;
    event.stopPropagation();
    this.drop();
    if (held.value === undefined || held.value === held.number.value) return;
    this.set({ [held.number.key]: held.value });
  }

  drop() { this.held = null; }
}
