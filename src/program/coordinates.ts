/**
 * How the coordinates of the program's words lie to each other: coordinate systems, presets, local
 * offsets, rotation. Shifts that the program itself tells are followed; what the machine alone knows
 * becomes an anchor of its own, and positions of two anchors are never compared.
 */

/** Position = word + offset, in the coordinates that the anchor names. */
export interface AxisFrame {
  readonly anchor: number;
  readonly offsetMm: number;
}

/** About a point in program coordinates, mm; sine and cosine of the counterclockwise angle. */
export interface Rotation {
  readonly centreMm: readonly [x: number, y: number];
  readonly cosine: number;
  readonly sine: number;
}

/** A part of an offset: a known length on top of an unknown one, which the anchor names. */
interface Shift {
  readonly anchor: number;
  readonly mm: number;
}

type Axis = 0 | 1 | 2;
type Shifts = [Shift, Shift, Shift];

const ALL: readonly Axis[] = [0, 1, 2];

/** Anchor of origins that G10 L2 gives: machine coordinates. */
const MACHINE = 0;
/** Anchor of presets that are known to be none. */
const NO_PRESET = 1;

/**
 * One instance for each run of a program.
 *
 * Source: NISTIR 6556, section 3.2.2 (position = word + origin of the system + G92 offset). G52 adds
 * a local offset, which is 0 at the start of a program (common practice, no source).
 */
export class Coordinates {
  #lastAnchor = NO_PRESET;
  readonly #origins = new Map<number, Shifts>();
  #preset: Shifts = this.#unknownShifts();
  /** What G92.3 brings back. At the start it need not be in force. */
  #savedPreset: Shifts = this.#unknownShifts();
  readonly #localMm: [number, number, number] = [0, 0, 0];
  /** Anchors that are a sum of two, by the two, and back. */
  readonly #sums = new Map<string, number>();
  readonly #parts = new Map<number, readonly [origin: number, preset: number]>();
  /** Code of the system in force, times ten. */
  #system = 540;
  rotation: Rotation | undefined;
  /** X, Y and Z of the system in force; replaced at each change. */
  frames: readonly [AxisFrame, AxisFrame, AxisFrame] = this.#settle(this.#system);

  get system(): number {
    return this.#system;
  }

  /** Names a place that nothing else relates to. */
  newAnchor(): number {
    this.#lastAnchor += 1;
    return this.#lastAnchor;
  }

  select(system: number): void {
    this.#system = system;
    this.#refresh();
  }

  frameOf(system: number, axis: Axis): AxisFrame {
    return system === this.#system ? this.frames[axis] : this.#settle(system)[axis];
  }

  /** G10 L2. */
  setOrigin(system: number, axis: Axis, mm: number): void {
    this.#originOf(system)[axis] = { anchor: MACHINE, mm };
    this.#refresh();
  }

  /** G10 L20: the present position, in an anchor's coordinates, is to be called by a given word. */
  setOriginHere(system: number, axis: Axis, anchor: number, atMm: number, wordMm: number): void {
    const [origin, preset] = this.#parts.get(anchor) ?? [];
    if (origin === undefined || preset !== this.#preset[axis].anchor) {
      this.loseOrigin(system, axis);
      return;
    }
    const mm = atMm - this.#preset[axis].mm - this.#localMm[axis] - wordMm;
    this.#originOf(system)[axis] = { anchor: origin, mm };
    this.#refresh();
  }

  loseOrigin(system: number, axis: Axis): void {
    this.#originOf(system)[axis] = this.#unknownShift();
    this.#refresh();
  }

  loseAllOrigins(): void {
    this.#origins.clear();
    this.#refresh();
  }

  /** G52. */
  setLocal(axis: Axis, mm: number): void {
    this.#localMm[axis] = mm;
    this.#refresh();
  }

  /** G92 where the position is known: the offset grows by a known length. */
  shiftPreset(axis: Axis, byMm: number): void {
    const { anchor, mm } = this.#preset[axis];
    this.#setPreset(axis, { anchor, mm: mm + byMm });
  }

  /** G92 where it is not. */
  losePreset(axis: Axis): void {
    this.#setPreset(axis, this.#unknownShift());
  }

  /** G92.1 and, where the saved offsets are kept, G92.2. */
  clearPreset(keepsSaved: boolean): void {
    const none = { anchor: NO_PRESET, mm: 0 };
    this.#preset = [none, none, none];
    if (!keepsSaved) this.#savedPreset = [none, none, none];
    this.#refresh();
  }

  /** G92.3. */
  restorePreset(): void {
    this.#preset = [...this.#savedPreset];
    this.#refresh();
  }

  #setPreset(axis: Axis, shift: Shift): void {
    this.#preset[axis] = shift;
    this.#savedPreset = [...this.#preset];
    this.#refresh();
  }

  #refresh(): void {
    this.frames = this.#settle(this.#system);
  }

  #settle(system: number): [AxisFrame, AxisFrame, AxisFrame] {
    const origin = this.#originOf(system);
    const [x, y, z] = ALL.map((axis) => ({
      anchor: this.#sumOf(origin[axis].anchor, this.#preset[axis].anchor),
      offsetMm: origin[axis].mm + this.#preset[axis].mm + this.#localMm[axis],
    }));
    return [x!, y!, z!];
  }

  #originOf(system: number): Shifts {
    const known = this.#origins.get(system);
    if (known !== undefined) return known;
    const shifts = this.#unknownShifts();
    this.#origins.set(system, shifts);
    return shifts;
  }

  #sumOf(origin: number, preset: number): number {
    const key = `${origin}/${preset}`;
    const known = this.#sums.get(key);
    if (known !== undefined) return known;
    const anchor = this.newAnchor();
    this.#sums.set(key, anchor);
    this.#parts.set(anchor, [origin, preset]);
    return anchor;
  }

  #unknownShift(): Shift {
    return { anchor: this.newAnchor(), mm: 0 };
  }

  #unknownShifts(): Shifts {
    return [this.#unknownShift(), this.#unknownShift(), this.#unknownShift()];
  }
}

/** Turns a direction. */
export function rotateVector(
  { cosine, sine }: Rotation,
  [x, y]: readonly [number, number],
): [number, number] {
  return [cosine * x - sine * y, sine * x + cosine * y];
}

/** Where a point lies that rotated words name; both in program coordinates, mm. */
export function rotatePoint(
  rotation: Rotation,
  [x, y]: readonly [number, number],
): [number, number] {
  const [cx, cy] = rotation.centreMm;
  const [dx, dy] = rotateVector(rotation, [x - cx, y - cy]);
  return [cx + dx, cy + dy];
}

/** The words that name a point in rotated coordinates. */
export function unrotatePoint(
  rotation: Rotation,
  point: readonly [number, number],
): [number, number] {
  return rotatePoint({ ...rotation, sine: -rotation.sine }, point);
}
