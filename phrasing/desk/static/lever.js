// One lever from plain to shaped, for the eye and the ear together. While it moves, blocks grow
// from their outlines and plain and shaped are mixed; let go, it is played at that strength.

// What is mixed at a strength: how much of the plain version, of the shaped one as it is
// (played at ``now``), and of the one at full strength, where that has come.
export function shares(strength, now, hasFull) {
  if (strength <= now || !hasFull) {
    const shaped = now > 0 ? Math.min(1, strength / now) : 0;
    return { plain: 1 - shaped, shaped, full: 0 };
  }
  const full = (strength - now) / (1 - now);
  return { plain: 0, shaped: 1 - full, full };
}

export class Lever {
  // ``strengthNow``: what it is played at; ``draw``: shows a strength; ``hearShaped``: turns to
  // the shaped version, ``shown``.
  constructor(input, { sound, transport, strengthNow, shown, draw, hearShaped, set }) {
    Object.assign(this, { input, sound, transport, strengthNow, shown, draw, hearShaped, set });
    this.held = false;
    input.addEventListener("input", () => this.move());
    input.addEventListener("change", () => this.release());
  }

  // Where it stands when nobody moves it.
  show(strength) {
    this.input.value = strength;
    this.held = false;
    this.tell(strength);
  }

  move() {
    const strength = Number(this.input.value);
    if (!this.held) this.take();
    this.tell(strength);
    this.draw(strength);
    this.mix(strength);
  }

  tell(strength) {
    this.input.setAttribute("aria-valuetext", `${Math.round(100 * strength)} percent`);
  }

  // Plain, and shaped at full strength, are needed for what lies beyond; music plays on.
  async take() {
    this.held = true;
    const { sound, transport } = this;
    if (!sound.context || !sound.tapes[this.shown()]) return;
    this.hearShaped();
    if (!transport.playing) await transport.play();
    const fault = await sound.unpackFull(this.shown(), this.strengthNow()).catch(({ message }) => message);
    if (fault) return;
    if (this.held && transport.playing) transport.again(transport.heard.place ?? transport.place);
    if (this.held) this.mix(Number(this.input.value));
  }

  mix(strength) {
    const { sound, transport } = this;
    const { plain, shaped, full } = shares(strength, this.strengthNow(), Boolean(sound.tapes[sound.fullAt]));
    transport.run?.mix({ 0: plain, [this.shown()]: shaped, [sound.fullAt]: full });
  }

  release() {
    this.held = false;
    this.set({ "feel:strength": Number(this.input.value) });
  }
}
