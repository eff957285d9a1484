// The blocks under the notes as handles: the upper edge for the level, the right edge for the
// length, of one note alone or of every note that has the same mark.

const NEAR = 9;             // pixels from an edge in which it is taken
const STEP = 6;             // dB between two lines of the scale
const LEAST = 0.2;          // of the strength, under which a block hardly moves

// Which edge of a block a pointer is at; null where at none.
export function edgeAt({ left, right, top }, x, y) {
  if (y < top - NEAR || x < left - NEAR || x > right + NEAR) return null;
  if (Math.abs(x - right) <= NEAR) return "gate";
  return Math.abs(y - top) <= NEAR ? "level" : null;
}

// What a number becomes when its edge was moved by so many pixels, of which ``unit`` are one.
export function moved({ value, least, most }, edge, dx, dy, unit) {
  const by = (edge === "gate" ? dx : -dy) / unit;
  const step = edge === "gate" ? 100 : 10;
  return Math.round(Math.min(most, Math.max(least, value + by)) * step) / step;
}

// Pixels to a dB: how far the scale's next line is from that of the plain note.
function pixelsPerDb(block) {
  const lane = block.closest(".lane");
  const plain = heightOf(lane.querySelector(".plain-level"));
  const away = [...lane.querySelectorAll("line.level")].map((line) => Math.abs(heightOf(line) - plain));
  return Math.min(...away) / STEP * scaleOf(block);
}

const heightOf = (line) => Number(line.getAttribute("y1"));
const scaleOf = (block) => block.ownerSVGElement.getScreenCTM()?.a || 1;

export class Handles {
  // ``alone``: whether a block moves by itself; ``numberOf``: the number that an edge stands for.
  constructor(root, { alone, notesLike, numberOf, strength, set, say, spoil }) {
    Object.assign(this, { root, alone, notesLike, numberOf, strength, set, say, spoil });
    root.addEventListener("pointerdown", (event) => this.take(event), { capture: true });
    root.addEventListener("pointermove", (event) => this.move(event), { capture: true });
    root.addEventListener("pointerup", (event) => this.release(event), { capture: true });
    root.addEventListener("pointercancel", () => this.drop());
    // A finger at an edge moves it; anywhere else it scrolls.
    root.addEventListener("touchstart", (event) => {
      const [touch] = event.touches;
      if (event.touches.length === 1 && this.found({ ...place(touch), target: event.target })) {
        event.preventDefault();
      }
    }, { passive: false });
  }

  // The block whose edge is under the pointer: the drawing lets pointers through.
  found({ clientX, clientY, target }) {
    const system = target.closest?.("svg.system");
    for (const block of this.blocks(system)) {
      const edge = edgeAt(block.getBoundingClientRect(), clientX, clientY);
      if (edge) return { block, edge, note: Number(block.dataset.note) };
    }
    return null;
  }

  blocks(system) {
    const found = [...system?.querySelectorAll(".front rect[data-note]") ?? []];
    return found.filter((block) => !block.closest(".off"));
  }

  take(event) {
    const found = event.button === 0 ? this.found(event) : null;
    if (!found) return;
    const { block, edge, note } = found;
    const mark = this.alone(event.shiftKey) ? null : this.notesLike(note).mark;
    const number = this.numberOf(note, edge, mark);
    if (!number) return;
    event.stopPropagation();
    event.preventDefault();
    const scale = scaleOf(block);
    const width = Number(block.getAttribute("width")) * scale;
    const unit = edge === "gate" ? width / Math.max(number.value, 0.05)
      : pixelsPerDb(block) * Math.max(LEAST, this.strength());
    this.held = { edge, mark, number, unit, scale, x: event.clientX, y: event.clientY };
    this.held.boxes = this.alike(found, mark).map((each) => [each, boxOf(each)]);
    this.root.setPointerCapture?.(event.pointerId);
  }

  // All blocks that the same number moves, as far as they can be seen.
  alike({ block, note }, mark) {
    if (mark === null) return [block];
    const { notes } = this.notesLike(note);
    return this.blocks(this.root).filter((each) => notes.includes(Number(each.dataset.note)));
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
    const [dx, dy] = [event.clientX - held.x, event.clientY - held.y];
    held.value = moved(held.number, held.edge, dx, dy, held.unit);
    for (const [block, box] of held.boxes) {
      draw(block, box, held);
      this.spoil(block);
    }
    this.say(`${held.mark === null ? "This note" : `Every ${held.mark}`}: ${said(held)}.`);
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

const place = ({ clientX, clientY }) => ({ clientX, clientY });

function boxOf(block) {
  const number = (name) => Number(block.getAttribute(name));
  return { y: number("y"), width: number("width"), height: number("height") };
}

function said({ edge, value }) {
  if (edge === "gate") return `sounds for ${Math.round(value * 100)} % of its length`;
  return `${value > 0 ? "+" : value < 0 ? "−" : ""}${Math.abs(value)} dB`;
}

// The block as far as the number went, and no farther.
function draw(block, box, { edge, number, value, unit, scale }) {
  const by = (value - number.value) * unit / scale;
  if (edge === "gate") {
    block.setAttribute("width", Math.max(1, box.width + by));
  } else {
    const up = Math.max(by, 1 - box.height);
    block.setAttribute("y", box.y - up);
    block.setAttribute("height", box.height + up);
  }
}
