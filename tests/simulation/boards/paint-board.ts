/** Paints a described board as a camera sees it: lines, things upon it, light, blur and noise. */

import type { BoardCamera } from './board-camera.js';
import { distanceToDigit } from './glyphs.js';
import { randomFrom, smoothNoise } from './noise.js';

/** A straight mark in the plane of the board. */
export interface DrawnLine {
  readonly from: readonly [number, number];
  readonly to: readonly [number, number];
  readonly widthMm: number;
  /** Grey values added; negative is dark. */
  readonly grey: number;
  /** One flank bright, the other dark. */
  readonly grooved?: boolean;
}

/** Parallel lines at one bearing, by position across it; for grids and for cuts of other work. */
export interface LineFamily {
  /** Bearing of the lines against the board's X axis, rad. */
  readonly bearing: number;
  /** Ascending, across the lines, mm. */
  readonly positions: readonly number[];
  readonly widthMm: readonly number[];
  readonly grey: readonly number[];
  /** From and to along the lines, mm. */
  readonly extent: readonly [number, number];
  readonly grooved?: boolean;
}

export interface Disc {
  readonly x: number;
  readonly y: number;
  readonly radius: number;
  /** Undefined: a hole or dot, flat; else a rounded stone with its own shade. */
  readonly rounded: boolean;
  readonly grey: number;
}

/** An opaque slab, turned. */
export interface Slab {
  readonly x: number;
  readonly y: number;
  readonly wide: number;
  readonly high: number;
  readonly bearing: number;
  readonly grey: number;
  /** Distance between graduation marks along its length; a rule. */
  readonly ticksMm?: number;
}

export interface Label {
  readonly x: number;
  readonly y: number;
  readonly size: number;
  readonly digit: number;
  readonly grey: number;
}

export interface BoardLook {
  readonly seed: number;
  readonly sizeMm: readonly [number, number];
  /** Usual gap, mm. */
  readonly pitchMm: number;
  /** Board material beyond the outer lines: left, right, lower, upper; mm. */
  readonly margins: readonly [number, number, number, number];
  readonly boardGrey: number;
  readonly tableGrey: number;
  readonly tableTexture: number;
  /** Parallel seams of planks on the table; mm, 0 for none. */
  readonly planksMm: number;
  readonly grainGrey: number;
  readonly grainAlongX: boolean;
  readonly families: readonly LineFamily[];
  readonly lines: readonly DrawnLine[];
  readonly labels: readonly Label[];
  readonly discs: readonly Disc[];
  readonly slabs: readonly Slab[];
  readonly stains: readonly Disc[];
  /** Hard edges of shadows: everything on one side is darker. */
  readonly shadows: readonly { bearing: number; at: number; factor: number }[];
  readonly glares: readonly { u: number; v: number; radius: number; grey: number }[];
  /** The sheet is pushed along Y by this much in its middle; mm. */
  readonly curlMm: number;
  readonly blurPx: number;
  readonly noiseGrey: number;
  readonly lightAcross: number;
}

export interface PaintedBoard {
  readonly width: number;
  readonly height: number;
  readonly data: Uint8Array;
}

const STONE_SHINE = 60;

export function curlAt(look: BoardLook, xMm: number): number {
  return look.curlMm * Math.sin((Math.PI * xMm) / look.sizeMm[0]);
}

export function paintBoard(
  look: BoardLook,
  camera: BoardCamera,
  width: number,
  height: number,
): PaintedBoard {
  const random = randomFrom(look.seed);
  const grain = smoothNoise(random);
  const layer = new Float32Array(width * height);
  const { pitchMm: pitch, sizeMm, margins } = look;
  const cells = new NodeIndex(look);
  let above: Float64Array | undefined;
  for (let v = 0; v < height; v++) {
    const row = new Float64Array(2 * (width + 1));
    for (let u = 0; u <= width; u++) {
      const [x, y] = camera.unproject(u, v);
      row[2 * u] = x;
      row[2 * u + 1] = y - curlAt(look, x);
    }
    above ??= row;
    for (let u = 0; u < width; u++) {
      const x = row[2 * u];
      const y = row[2 * u + 1];
      const perPx = [
        Math.hypot(row[2 * u + 2] - x, x - above[2 * u]) || pitch / 30,
        Math.hypot(row[2 * u + 3] - y, y - above[2 * u + 1]) || pitch / 30,
      ] as const;
      layer[v * width + u] = shade(look, cells, grain, x, y, perPx);
    }
    above = row;
  }
  for (const glare of look.glares) addGlare(layer, width, height, glare);
  for (let v = 0; v < height; v++) {
    for (let u = 0; u < width; u++) layer[v * width + u] += look.lightAcross * (u / width - 0.5);
  }
  if (look.blurPx > 0.2) blur(layer, width, height, look.blurPx);
  const data = new Uint8Array(width * height);
  for (let i = 0; i < data.length; i++) {
    // Sum of three uniform numbers: near enough to a normal one.
    const noise = look.noiseGrey * 2 * (random() + random() + random() - 1.5);
    data[i] = Math.max(0, Math.min(255, Math.round(layer[i] + noise)));
  }
  return { width, height, data };

  function shade(
    l: BoardLook,
    index: NodeIndex,
    texture: (x: number, y: number) => number,
    x: number,
    y: number,
    perPx: readonly [number, number],
  ): number {
    const onBoard =
      x > -margins[0] &&
      x < sizeMm[0] + margins[1] &&
      y > -margins[2] &&
      y < sizeMm[1] + margins[3];
    let value: number;
    if (onBoard) {
      const [along, across] = l.grainAlongX ? [x, y] : [y, x];
      const fine = texture(along / (8 * pitch), (12 * across) / pitch);
      const coarse = texture(along / (12 * pitch) + 70, (2.5 * across) / pitch + 31);
      value = l.boardGrey + l.grainGrey * (fine + 0.6 * coarse);
      for (const stain of l.stains) {
        const r = Math.hypot(x - stain.x, y - stain.y) / stain.radius;
        const edge = 1 + 0.3 * texture((3 * x) / stain.radius, (3 * y) / stain.radius);
        if (r < edge) value += stain.grey * Math.min(1, 4 * (edge - r));
      }
      for (const family of l.families) value += familyGrey(family, x, y, perPx);
      for (const line of l.lines) value += lineGrey(line, x, y, perPx);
      for (const label of index.labelsAt(x, y)) value += labelGrey(label, x, y, perPx);
    } else {
      value = l.tableGrey + l.tableTexture * texture((3 * x) / pitch + 9, (3 * y) / pitch + 5);
      if (l.planksMm > 0) {
        const across = 0.94 * x + 0.34 * y;
        value += 0.7 * l.tableTexture * texture((0.2 * (y - x)) / pitch, (9 * across) / pitch);
        const seam = Math.abs(across / l.planksMm - Math.round(across / l.planksMm)) * l.planksMm;
        if (seam < 0.04 * pitch) value -= 40;
      }
    }
    for (const disc of index.discsAt(x, y)) {
      const dx = x - disc.x;
      const dy = y - disc.y;
      const r = Math.hypot(dx, dy) / disc.radius;
      if (disc.rounded) {
        // A soft shadow towards one side, then the stone itself, lit from the other.
        const s = Math.hypot(dx - 0.18 * disc.radius, dy + 0.18 * disc.radius) / disc.radius;
        if (r >= 1 && s < 1.12) value *= 0.75;
        if (r < 1) {
          const lit = Math.hypot(dx + 0.35 * disc.radius, dy - 0.35 * disc.radius) / disc.radius;
          value = disc.grey - 25 * r * r + STONE_SHINE * Math.exp(-((lit / 0.22) ** 2));
        }
      } else if (r < 1) value = disc.grey;
    }
    for (const slab of l.slabs) {
      const c = Math.cos(slab.bearing);
      const s = Math.sin(slab.bearing);
      const p = c * (x - slab.x) + s * (y - slab.y);
      const q = -s * (x - slab.x) + c * (y - slab.y);
      if (Math.abs(p) > slab.wide / 2 || Math.abs(q) > slab.high / 2) continue;
      value = slab.grey + 6 * texture((2 * p) / pitch, (20 * q) / pitch);
      if (slab.ticksMm !== undefined && q > 0.1 * slab.high) {
        const t = p / slab.ticksMm;
        const off = Math.abs(t - Math.round(t)) * slab.ticksMm;
        const half = 0.12 * slab.ticksMm;
        value -= 110 * cover(off, half, perPx[0] * Math.abs(c) + perPx[1] * Math.abs(s));
      }
    }
    for (const shadow of l.shadows) {
      const side = Math.cos(shadow.bearing) * x + Math.sin(shadow.bearing) * y - shadow.at;
      if (side > 0) value *= shadow.factor;
    }
    return value;
  }
}

/** Share of a pixel that a line of a half-width at a distance covers. */
function cover(off: number, half: number, px: number): number {
  const share = (Math.min(off + px / 2, half) - Math.max(off - px / 2, -half)) / px;
  return Math.max(share, 0);
}

function familyGrey(f: LineFamily, x: number, y: number, perPx: readonly [number, number]): number {
  const c = Math.cos(f.bearing);
  const s = Math.sin(f.bearing);
  const along = c * x + s * y;
  if (along < f.extent[0] || along > f.extent[1]) return 0;
  const across = -s * x + c * y;
  const p = f.positions;
  let low = 0;
  let high = p.length - 1;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (p[middle] < across) low = middle + 1;
    else high = middle;
  }
  const k = low > 0 && across - p[low - 1] < Math.abs(p[low] - across) ? low - 1 : low;
  const off = across - p[k];
  const px = Math.hypot(s * perPx[0], c * perPx[1]);
  const half = f.widthMm[k] / 2;
  if (Math.abs(off) > half + px) return 0;
  const share = cover(Math.abs(off), half, px);
  return f.grooved ? f.grey[k] * share * (off > 0 ? 1 : -0.8) : f.grey[k] * share;
}

function lineGrey(line: DrawnLine, x: number, y: number, perPx: readonly [number, number]): number {
  const [ax, ay] = line.from;
  const dx = line.to[0] - ax;
  const dy = line.to[1] - ay;
  const length = Math.hypot(dx, dy);
  const along = ((x - ax) * dx + (y - ay) * dy) / length;
  if (along < 0 || along > length) return 0;
  const off = ((x - ax) * dy - (y - ay) * dx) / length;
  const px = Math.hypot((dy / length) * perPx[0], (dx / length) * perPx[1]);
  if (Math.abs(off) > line.widthMm / 2 + px) return 0;
  return line.grey * cover(Math.abs(off), line.widthMm / 2, px);
}

function labelGrey(label: Label, x: number, y: number, perPx: readonly [number, number]): number {
  const p = (x - label.x) / (0.65 * label.size) + 0.5;
  const q = (y - label.y) / label.size + 0.5;
  if (p < -0.2 || p > 1.2 || q < -0.2 || q > 1.2) return 0;
  const off = distanceToDigit(label.digit, p, q) * label.size;
  return label.grey * cover(off, 0.055 * label.size, (perPx[0] + perPx[1]) / 2);
}

/** Discs and labels by the square of the board they touch. */
class NodeIndex {
  private readonly discs = new Map<number, Disc[]>();
  private readonly labels = new Map<number, Label[]>();
  private readonly side: number;

  constructor(look: BoardLook) {
    this.side = look.pitchMm;
    for (const disc of look.discs) this.add(this.discs, disc, 1.4 * disc.radius);
    for (const label of look.labels) this.add(this.labels, label, 0.7 * label.size);
  }

  discsAt(x: number, y: number): readonly Disc[] {
    return this.discs.get(this.key(x, y)) ?? NONE;
  }

  labelsAt(x: number, y: number): readonly Label[] {
    return this.labels.get(this.key(x, y)) ?? NONE;
  }

  private key(x: number, y: number): number {
    return Math.floor(x / this.side) * 4096 + Math.floor(y / this.side);
  }

  private add<T extends { x: number; y: number }>(
    into: Map<number, T[]>,
    thing: T,
    reach: number,
  ): void {
    const cell = (at: number) => Math.floor(at / this.side);
    for (let i = cell(thing.x - reach); i <= cell(thing.x + reach); i++) {
      for (let j = cell(thing.y - reach); j <= cell(thing.y + reach); j++) {
        const list = into.get(i * 4096 + j);
        if (list === undefined) into.set(i * 4096 + j, [thing]);
        else list.push(thing);
      }
    }
  }
}

const NONE: readonly never[] = [];

function addGlare(
  layer: Float32Array,
  width: number,
  height: number,
  glare: { u: number; v: number; radius: number; grey: number },
): void {
  const size = Math.max(width, height);
  for (let v = 0; v < height; v++) {
    for (let u = 0; u < width; u++) {
      const r = Math.hypot(u / size - glare.u, v / size - glare.v) / glare.radius;
      // Light mirrored by varnish: it adds, and the picture saturates.
      if (r < 3) layer[v * width + u] += glare.grey * Math.exp(-r * r);
    }
  }
}

/** Gaussian blur along rows, then along columns. */
function blur(layer: Float32Array, width: number, height: number, sigma: number): void {
  const reach = Math.ceil(3 * sigma);
  const kernel = Float32Array.from({ length: 2 * reach + 1 }, (_, k) =>
    Math.exp(-((k - reach) ** 2) / (2 * sigma * sigma)),
  );
  const total = kernel.reduce((a, b) => a + b, 0);
  const line = new Float32Array(Math.max(width, height));
  const pass = (start: number, step: number, n: number) => {
    for (let k = 0; k < n; k++) {
      let sum = 0;
      for (let o = -reach; o <= reach; o++) {
        sum += kernel[o + reach] * layer[start + step * Math.max(0, Math.min(n - 1, k + o))];
      }
      line[k] = sum / total;
    }
    for (let k = 0; k < n; k++) layer[start + step * k] = line[k];
  };
  for (let v = 0; v < height; v++) pass(v * width, 1, width);
  for (let u = 0; u < width; u++) pass(u, width, height);
}
