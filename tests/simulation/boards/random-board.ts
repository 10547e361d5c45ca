/**
 * Random scenes of marked boards with their truth: workshop boards, board games with stones, printed
 * number puzzles and cutting mats. Knows nothing of the code under test.
 */

import type { Stroke } from '../../../shared/stroke.js';
import { placeCamera } from './board-camera.js';
import { between, pick, type Random, randomFrom } from './noise.js';
import {
  type BoardLook,
  curlAt,
  type Disc,
  type DrawnLine,
  type Label,
  type LineFamily,
  paintBoard,
  type Slab,
} from './paint-board.js';

export type BoardKind = 'workshop' | 'stones' | 'puzzle' | 'mat';

export type Clutter =
  | 'cuts'
  | 'scratches'
  | 'grain'
  | 'stains'
  | 'shadow'
  | 'holes'
  | 'clamps'
  | 'stock'
  | 'rule'
  | 'frame'
  | 'glare';

export const CLUTTERS: readonly Clutter[] = [
  'cuts',
  'scratches',
  'grain',
  'stains',
  'shadow',
  'holes',
  'clamps',
  'stock',
  'rule',
  'frame',
  'glare',
];

/** What a scene shall be; what is left out is drawn at random. */
export interface BoardWish {
  readonly kind?: BoardKind;
  readonly widthPx?: number;
  readonly heightPx?: number;
  readonly lines?: readonly [number, number];
  /** Gap along Y over gap along X. */
  readonly ratio?: number;
  readonly uneven?: boolean;
  readonly fill?: number;
  readonly tiltDeg?: number;
  readonly rollDeg?: number;
  readonly distortion?: number;
  readonly markPx?: number;
  /** Grey values, positive; the sign is drawn at random unless `bright` tells. */
  readonly contrast?: number;
  readonly bright?: boolean;
  readonly noiseGrey?: number;
  readonly grainGrey?: number;
  readonly blurPx?: number;
  /** Share of the board hidden under things. */
  readonly coverage?: number;
  readonly clutter?: readonly Clutter[];
  readonly cutFamilies?: number;
  /** Finer lines between two lines of a mat. */
  readonly finer?: number;
  /** The program has this many more lines along X and Y than the board. */
  readonly programMore?: readonly [number, number];
  /** The program's ratio of the gaps over the true one. */
  readonly programRatio?: number;
}

export interface BoardScene {
  readonly grey: { width: number; height: number; data: Uint8Array };
  /** The program to look for. */
  readonly strokes: readonly Stroke[];
  readonly isProgramTrue: boolean;
  /** Corners of the program's grid in its own frame, and where they truly lie; from (x0, y0) round. */
  readonly cornersMm: readonly (readonly [number, number])[];
  readonly cornersPx: readonly (readonly [number, number])[];
  /** Narrowest mean gap at the edges of the grid, px. */
  readonly gapPx: number;
  readonly kind: BoardKind;
  readonly label: string;
}

export function drawBoard(seed: number, wish: BoardWish = {}): BoardScene {
  const random = randomFrom(seed);
  const kind = wish.kind ?? pick(random, ['workshop', 'stones', 'puzzle', 'mat'] as const);
  const [widthPx, heightPx] = sizeOf(random, wish);
  const [nx, ny] = wish.lines ?? linesOf(random, kind);
  const ratio =
    wish.ratio ??
    (kind === 'stones' ? 1.077 : kind === 'workshop' ? between(random, 0.75, 1.33) : 1);
  const uneven = wish.uneven ?? (kind === 'workshop' && random() < 0.15);
  const pitch = 30;
  const xs = positionsOf(random, nx, pitch, uneven);
  const ys = positionsOf(random, ny, pitch * ratio, uneven);
  const sizeMm = [xs[nx - 1], ys[ny - 1]] as const;
  const camera = placeCamera({
    widthPx,
    heightPx,
    sizeMm,
    fill: wish.fill ?? between(random, 0.55, 0.95),
    tiltDeg: wish.tiltDeg ?? between(random, 0, 40),
    leanDeg: between(random, 0, 360),
    rollDeg: wish.rollDeg ?? between(random, 0, 360),
    focal: between(random, 0.65, 1.1),
    distortion: wish.distortion ?? between(random, -0.03, 0.03),
    offset: [between(random, -1, 1), between(random, -1, 1)],
  });
  const middle = [sizeMm[0] / 2, sizeMm[1] / 2];
  const a = camera.project(middle[0], middle[1]);
  const b = camera.project(middle[0] + pitch, middle[1]);
  const c = camera.project(middle[0], middle[1] + pitch);
  const pxPerMm =
    Math.sqrt(Math.abs((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))) / pitch;
  const look = lookOf(random, seed, kind, wish, xs, ys, pitch, pxPerMm);
  const { width, height, data } = paintBoard(look, camera, widthPx, heightPx);
  const truth = (x: number, y: number) => camera.project(x, y + curlAt(look, x));
  const [px, py] = wish.programMore ?? [0, 0];
  const isProgramTrue = px === 0 && py === 0;
  const told = wish.programRatio ?? (uneven ? 1 : between(random, 0.97, 1.03));
  const programXs = px === 0 ? xs : positionsOf(random, nx + px, pitch, uneven);
  const programYs = (py === 0 ? ys : positionsOf(random, ny + py, pitch * ratio, uneven)).map(
    (y) => y * told,
  );
  const corner = (x: number[], y: number[]) =>
    [
      [x[0], y[0]],
      [x[x.length - 1], y[0]],
      [x[x.length - 1], y[y.length - 1]],
      [x[0], y[y.length - 1]],
    ] as const;
  const cornersPx = corner(xs, ys).map(([x, y]) => truth(x, y));
  const side = (k: number, n: number) => {
    const [p, q] = [cornersPx[k], cornersPx[(k + 1) % 4]];
    return Math.hypot(p[0] - q[0], p[1] - q[1]) / (n - 1);
  };
  return {
    grey: { width, height, data },
    strokes: gridStrokes(programXs, programYs),
    isProgramTrue,
    cornersMm: corner(programXs, programYs),
    cornersPx,
    gapPx: Math.min(side(0, nx), side(2, nx), side(1, ny), side(3, ny)),
    kind,
    label: `${seed} ${kind} ${nx}×${ny} ${widthPx}×${heightPx}`,
  };
}

/** Strokes of a grid: lines along Y, then lines along X. */
export function gridStrokes(xs: readonly number[], ys: readonly number[]): Stroke[] {
  const strokes: Stroke[] = [];
  const add = (x1: number, y1: number, x2: number, y2: number) =>
    strokes.push({
      id: strokes.length,
      fromMm: [x1, y1],
      toMm: [x2, y2],
      approachX: 1,
      approachY: 1,
      sourceLine: strokes.length + 1,
    });
  for (const x of xs) add(x, ys[0], x, ys[ys.length - 1]);
  for (const y of ys) add(xs[0], y, xs[xs.length - 1], y);
  return strokes;
}

function sizeOf(random: Random, wish: BoardWish): [number, number] {
  const [w, h] = pick(random, [
    [640, 480],
    [480, 640],
    [1280, 960],
    [1280, 720],
    [1600, 1200],
  ] as const);
  return [wish.widthPx ?? w, wish.heightPx ?? h];
}

function linesOf(random: Random, kind: BoardKind): [number, number] {
  if (kind === 'stones') {
    const n = pick(random, [9, 13, 19, 19, 19] as const);
    return [n, n];
  }
  if (kind === 'puzzle')
    return pick(random, [[10, 10] as [number, number], [10, 10], [7, 7], [14, 14]]);
  const n = () => Math.round(Math.exp(between(random, Math.log(6), Math.log(32))));
  const across = n();
  return [across, Math.max(5, Math.round(across * between(random, 0.5, 1.3)))];
}

function positionsOf(random: Random, n: number, pitch: number, uneven: boolean): number[] {
  const at = [0];
  for (let k = 1; k < n; k++) {
    at.push(at[k - 1] + pitch * (uneven ? pick(random, [0.7, 1, 1, 1.4, 1.8]) : 1));
  }
  return at;
}

function lookOf(
  random: Random,
  seed: number,
  kind: BoardKind,
  wish: BoardWish,
  xs: readonly number[],
  ys: readonly number[],
  pitch: number,
  pxPerMm: number,
): BoardLook {
  const sizeMm = [xs[xs.length - 1], ys[ys.length - 1]] as const;
  const clutter =
    wish.clutter ??
    (kind === 'workshop'
      ? CLUTTERS.filter(() => random() < 0.25)
      : kind === 'stones'
        ? (['shadow', 'glare', 'grain'] as const).filter(() => random() < 0.4)
        : (['shadow', 'glare'] as const).filter(() => random() < 0.2));
  const has = (c: Clutter) => clutter.includes(c);
  const usualPx = { workshop: [1.2, 5], stones: [1, 2.5], puzzle: [1, 3], mat: [1, 2.5] }[kind];
  const gapPx = pitch * pxPerMm;
  const markPx = wish.markPx ?? Math.min(0.2 * gapPx, between(random, usualPx[0], usualPx[1]));
  const usualContrast = { workshop: [14, 60], stones: [35, 90], puzzle: [70, 150], mat: [40, 90] }[
    kind
  ];
  const contrast = wish.contrast ?? between(random, usualContrast[0], usualContrast[1]);
  const bright = wish.bright ?? (kind === 'mat' ? true : kind === 'workshop' && random() < 0.25);
  const depth = bright ? contrast : -contrast;
  const widthMm = markPx / pxPerMm;
  const boardGrey = {
    workshop: bright ? between(random, 70, 140) : between(random, 120, 200),
    stones: between(random, 150, 200),
    puzzle: between(random, 190, 230),
    mat: between(random, 50, 90),
  }[kind];
  const margin = () =>
    pitch * (kind === 'stones' ? between(random, 0.5, 1) : between(random, 0.3, 2.5));
  const margins = [margin(), margin(), margin(), margin()] as const;
  const grid = gridFamilies(random, kind, xs, ys, widthMm, depth, wish, has('frame'));
  const families = [...grid];
  const lines: DrawnLine[] = [];
  const labels: Label[] = [];
  const discs: Disc[] = [];
  const slabs: Slab[] = [];
  const stains: Disc[] = [];
  const cutFamilies = wish.cutFamilies ?? (has('cuts') ? pick(random, [1, 2]) : 0);
  for (let k = 0; k < cutFamilies; k++)
    families.push(otherCuts(random, sizeMm, pitch, widthMm, depth));
  if (has('scratches')) addScratches(random, lines, sizeMm, pitch, widthMm, depth);
  if (has('frame') && kind !== 'puzzle') addFrame(random, lines, sizeMm, pitch, widthMm, depth);
  if (has('holes')) addHoles(random, discs, xs, ys, pitch);
  if (has('stains')) {
    for (let k = 0; k < 4; k++) {
      stains.push({
        x: random() * sizeMm[0],
        y: random() * sizeMm[1],
        radius: between(random, 0.5, 2.5) * pitch,
        rounded: false,
        grey: between(random, -45, 25),
      });
    }
  }
  if (kind === 'stones') addStones(random, discs, xs, ys, pitch, wish.coverage);
  if (kind === 'puzzle') addPuzzlePrint(random, labels, xs, ys, pitch, depth);
  if (kind === 'mat') addMatPrint(random, labels, lines, xs, ys, pitch, depth, widthMm);
  if (kind !== 'stones' && wish.coverage !== undefined) {
    addCovers(random, slabs, sizeMm, pitch, wish.coverage);
  }
  if (has('clamps')) {
    for (let k = 0; k < 3; k++) slabs.push(slabAtEdge(random, sizeMm, pitch));
  }
  if (has('stock')) addCovers(random, slabs, sizeMm, pitch, 0.12);
  if (has('rule')) slabs.push(ruleOn(random, sizeMm, pitch));
  const shadows = has('shadow') ? [shadowOn(random, sizeMm)] : [];
  const glares = has('glare')
    ? [
        {
          u: between(random, 0.3, 0.7),
          v: between(random, 0.2, 0.5),
          radius: between(random, 0.06, 0.16),
          grey: between(random, 60, 150),
        },
      ]
    : [];
  return {
    seed: seed + 77,
    sizeMm,
    pitchMm: pitch,
    margins,
    boardGrey,
    tableGrey: between(random, 50, 180),
    tableTexture: between(random, 3, 25),
    planksMm: random() < 0.4 ? between(random, 1.5, 5) * pitch : 0,
    grainGrey:
      wish.grainGrey ?? (has('grain') ? between(random, 8, 18) : kind === 'workshop' ? 4 : 2),
    grainAlongX: random() < 0.5,
    families,
    lines,
    labels,
    discs,
    slabs,
    stains,
    shadows,
    glares,
    curlMm: kind === 'puzzle' ? between(random, -0.12, 0.12) * pitch : 0,
    blurPx: wish.blurPx ?? between(random, 0.4, 1.1),
    noiseGrey: wish.noiseGrey ?? between(random, 1, 4),
    lightAcross: between(random, -40, 40),
  };
}

/** The grid's own two families; finer lines of a mat and bold lines of a puzzle are part of them. */
function gridFamilies(
  random: Random,
  kind: BoardKind,
  xs: readonly number[],
  ys: readonly number[],
  widthMm: number,
  depth: number,
  wish: BoardWish,
  framed: boolean,
): LineFamily[] {
  const finer = wish.finer ?? (kind === 'mat' ? pick(random, [2, 2, 4, 5]) - 1 : 0);
  const finerGrey = between(random, 0.3, 0.6) * depth;
  const boldEvery = kind === 'puzzle' && (xs.length - 1) % 3 === 0 ? 3 : 0;
  const bold = between(random, 1.8, 3.2);
  const boldFrame = kind === 'puzzle' || (kind === 'stones' && random() < 0.4) || framed;
  const grooved = kind === 'workshop' && wish.contrast === undefined && random() < 0.1;
  const sizeX = xs[xs.length - 1];
  const sizeY = ys[ys.length - 1];
  const family = (
    bearing: number,
    lines: readonly number[],
    extent: readonly [number, number],
    sign: 1 | -1,
  ): LineFamily => {
    const rows: { at: number; width: number; grey: number }[] = [];
    lines.forEach((at, k) => {
      const outer = k === 0 || k === lines.length - 1;
      const isBold = (boldEvery > 0 && k % boldEvery === 0) || (outer && boldFrame);
      rows.push({ at, width: widthMm * (isBold ? bold : 1), grey: depth });
      if (k + 1 < lines.length) {
        for (let j = 1; j <= finer; j++) {
          const t = j / (finer + 1);
          const place = at + t * (lines[k + 1] - at);
          rows.push({ at: place, width: 0.7 * widthMm, grey: finerGrey });
        }
      }
    });
    rows.forEach((row) => {
      row.at *= sign;
    });
    rows.sort((p, q) => p.at - q.at);
    return {
      bearing,
      positions: rows.map((row) => row.at),
      widthMm: rows.map((row) => row.width),
      grey: rows.map((row) => row.grey),
      extent,
      grooved,
    };
  };
  const half = (boldFrame ? bold : 1) * (widthMm / 2);
  return [
    family(Math.PI / 2, xs, [-half, sizeY + half], -1),
    family(0, ys, [-half, sizeX + half], 1),
  ];
}

/** Parallel cuts of earlier work, all over the board, at another bearing and their own spacing. */
function otherCuts(
  random: Random,
  sizeMm: readonly [number, number],
  pitch: number,
  widthMm: number,
  depth: number,
): LineFamily {
  const bearing = between(random, 0.12, Math.PI - 0.12);
  const gap = pitch * between(random, 0.6, 2.5);
  const reach = Math.hypot(...sizeMm);
  const even = random() < 0.6;
  const positions: number[] = [];
  for (let at = -reach; at < reach; at += gap * (even ? 1 : between(random, 0.4, 1.6))) {
    positions.push(at);
  }
  const width = widthMm * between(random, 0.6, 1.5);
  const grey = depth * between(random, 0.4, 1.2);
  const from = between(random, -1, 0.3) * reach;
  return {
    bearing,
    positions,
    widthMm: positions.map(() => width),
    grey: positions.map(() => grey),
    extent: [from, from + between(random, 0.5, 1.5) * reach],
  };
}

function addScratches(
  random: Random,
  lines: DrawnLine[],
  sizeMm: readonly [number, number],
  pitch: number,
  widthMm: number,
  depth: number,
): void {
  for (let k = 0; k < 25; k++) {
    const from = [random() * sizeMm[0], random() * sizeMm[1]] as const;
    const bearing = random() * 2 * Math.PI;
    const length = pitch * between(random, 1, 12);
    lines.push({
      from,
      to: [from[0] + length * Math.cos(bearing), from[1] + length * Math.sin(bearing)],
      widthMm: widthMm * between(random, 0.4, 1.3),
      grey: depth * between(random, -0.6, 1.3),
    });
  }
}

/** A frame round the grid, a share of a gap outside the outer lines. */
function addFrame(
  random: Random,
  lines: DrawnLine[],
  sizeMm: readonly [number, number],
  pitch: number,
  widthMm: number,
  depth: number,
): void {
  const out = pitch * between(random, 0.15, 0.9);
  const [x0, x1, y0, y1] = [-out, sizeMm[0] + out, -out, sizeMm[1] + out];
  const corners = [
    [x0, y0],
    [x1, y0],
    [x1, y1],
    [x0, y1],
  ] as const;
  corners.forEach((from, k) => {
    lines.push({ from, to: corners[(k + 1) % 4], widthMm: 1.5 * widthMm, grey: depth });
  });
}

function addHoles(
  random: Random,
  discs: Disc[],
  xs: readonly number[],
  ys: readonly number[],
  pitch: number,
): void {
  const radius = pitch * between(random, 0.06, 0.15);
  const share = between(random, 0.3, 1);
  for (const x of xs) {
    for (const y of ys) {
      if (random() < share) discs.push({ x, y, radius, rounded: false, grey: 35 });
    }
  }
}

function addStones(
  random: Random,
  discs: Disc[],
  xs: readonly number[],
  ys: readonly number[],
  pitch: number,
  coverage: number | undefined,
): void {
  const share = coverage ?? pick(random, [0, 0.05, 0.2, 0.45]);
  const radius = 0.47 * pitch;
  const star = Math.max(2, Math.floor(xs.length / 6));
  for (const [i, x] of xs.entries()) {
    for (const [j, y] of ys.entries()) {
      const isStar =
        [star, (xs.length - 1) / 2, xs.length - 1 - star].includes(i) &&
        [star, (ys.length - 1) / 2, ys.length - 1 - star].includes(j);
      if (isStar) discs.push({ x, y, radius: 0.09 * pitch, rounded: false, grey: 50 });
      if (random() >= share) continue;
      discs.push({
        x: x + between(random, -0.06, 0.06) * pitch,
        y: y + between(random, -0.06, 0.06) * pitch,
        radius,
        rounded: true,
        grey: random() < 0.5 ? 45 : 225,
      });
    }
  }
}

/** Numbers in some cells, and rows of print above and below. */
function addPuzzlePrint(
  random: Random,
  labels: Label[],
  xs: readonly number[],
  ys: readonly number[],
  pitch: number,
  depth: number,
): void {
  const share = between(random, 0.25, 0.8);
  for (let i = 0; i + 1 < xs.length; i++) {
    for (let j = 0; j + 1 < ys.length; j++) {
      if (random() > share) continue;
      labels.push({
        x: (xs[i] + xs[i + 1]) / 2 + between(random, -0.06, 0.06) * pitch,
        y: (ys[j] + ys[j + 1]) / 2 + between(random, -0.06, 0.06) * pitch,
        size: 0.62 * pitch,
        digit: 1 + Math.floor(9 * random()),
        grey: depth,
      });
    }
  }
  for (const y of [-0.9 * pitch, ys[ys.length - 1] + 0.9 * pitch]) {
    for (let x = 0; x < xs[xs.length - 1]; x += 0.3 * pitch) {
      if (random() < 0.8) {
        labels.push({ x, y, size: 0.3 * pitch, digit: Math.floor(10 * random()), grey: depth });
      }
    }
  }
}

/** Numbers along the edges and slanting guide lines. */
function addMatPrint(
  random: Random,
  labels: Label[],
  lines: DrawnLine[],
  xs: readonly number[],
  ys: readonly number[],
  pitch: number,
  depth: number,
  widthMm: number,
): void {
  const write = (x: number, y: number, n: number) => {
    const digits = String(n).split('');
    digits.forEach((digit, k) => {
      labels.push({
        x: x + 0.24 * pitch * (k - (digits.length - 1) / 2),
        y,
        size: 0.32 * pitch,
        digit: Number(digit),
        grey: depth,
      });
    });
  };
  xs.forEach((x, k) => {
    write(x, -0.3 * pitch, k);
    if (random() < 0.8) write(x, ys[ys.length - 1] + 0.3 * pitch, k);
  });
  ys.forEach((y, k) => {
    write(-0.4 * pitch, y, k);
  });
  const size = Math.min(xs[xs.length - 1], ys[ys.length - 1]);
  for (const bearing of [Math.PI / 4, Math.PI / 3, (3 * Math.PI) / 4]) {
    if (random() < 0.4) continue;
    const from = [bearing < 2 ? 0 : size, 0] as const;
    lines.push({
      from,
      to: [from[0] + size * Math.cos(bearing), size * Math.sin(bearing)],
      widthMm,
      grey: depth,
    });
  }
}

/** Slabs laid over the board until a share of it is hidden. */
function addCovers(
  random: Random,
  slabs: Slab[],
  sizeMm: readonly [number, number],
  pitch: number,
  coverage: number,
): void {
  const want = coverage * sizeMm[0] * sizeMm[1];
  let hidden = 0;
  while (hidden < want) {
    const wide = Math.min(sizeMm[0], pitch * between(random, 1, 6));
    const high = Math.min(
      want - hidden < wide * pitch ? pitch : sizeMm[1],
      pitch * between(random, 1, 4),
    );
    const slab = {
      x: random() * sizeMm[0],
      y: random() * sizeMm[1],
      wide,
      high,
      bearing: random() < 0.5 ? between(random, -0.05, 0.05) : between(random, 0, Math.PI),
      grey: between(random, 40, 220),
    };
    slabs.push(slab);
    hidden += 0.85 * wide * high;
  }
}

function slabAtEdge(random: Random, sizeMm: readonly [number, number], pitch: number): Slab {
  const along = random();
  const [x, y] = pick(random, [
    [along * sizeMm[0], 0],
    [along * sizeMm[0], sizeMm[1]],
    [0, along * sizeMm[1]],
    [sizeMm[0], along * sizeMm[1]],
  ]);
  return {
    x,
    y,
    wide: 0.8 * pitch,
    high: 2.2 * pitch,
    bearing: between(random, 0, Math.PI),
    grey: between(random, 30, 90),
  };
}

function ruleOn(random: Random, sizeMm: readonly [number, number], pitch: number): Slab {
  return {
    x: between(random, 0.3, 0.7) * sizeMm[0],
    y: between(random, 0.1, 0.9) * sizeMm[1],
    wide: 0.9 * sizeMm[0],
    high: 0.8 * pitch,
    bearing: random() < 0.6 ? between(random, -0.03, 0.03) : between(random, -1, 1),
    grey: 190,
    ticksMm: pitch / 5,
  };
}

function shadowOn(random: Random, sizeMm: readonly [number, number]) {
  const bearing = random() * 2 * Math.PI;
  const at =
    Math.cos(bearing) * between(random, 0.2, 0.8) * sizeMm[0] +
    Math.sin(bearing) * between(random, 0.2, 0.8) * sizeMm[1];
  return { bearing, at, factor: between(random, 0.4, 0.75) };
}
