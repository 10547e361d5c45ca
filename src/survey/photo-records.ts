/** What the result says of each photo, and what its overlay picture shows. */

import { basename } from 'node:path';
import type { PhotoRecord } from '../../shared/schemas/measurement.js';
import { imageFromCommanded, type MeasuredMarks } from '../marks/index.js';
import {
  type Adjustment,
  boardFromCommanded,
  type CommandedView,
  commandedView,
  imageFromBoard,
  isKept,
  viewOf,
} from '../network/index.js';
import type { Grid } from '../program/index.js';
import type { OverlayContent } from '../report/index.js';
import { type Board, isTurnedEnough } from './board.js';
import type { ExaminedPhoto, PhotoFate } from './examine-photo.js';
import { judgePhoto } from './judge-photo.js';
import { type PixelSize, type StoredTurn, storedFromSensor } from './stored-turn.js';
import { type SeenResidual, summariseResiduals } from './summarise-residuals.js';

/** A photo in the adjustment, and how its stored picture lies in the sensor's frame. */
export interface AdjustedView {
  readonly adjustment: Adjustment;
  /** Index among the adjusted photos. */
  readonly photo: number;
  readonly stored: PixelSize;
  readonly turn: StoredTurn;
}

type Corner = NonNullable<PhotoRecord['corners']>[number];

/** Points per predicted line: a lens bends it by some pixels at most. */
const POINTS_PER_LINE = 24;

/** Of a photo that was left out. */
export function recordLeftOut(fate: PhotoFate): PhotoRecord {
  const { outcome } = fate;
  if (outcome.ok) throw new Error('a usable photo was recorded as left out');
  const { failure } = outcome;
  const { code, message, hint } = failure;
  return {
    ...common(fate),
    used: false,
    code,
    reason: message,
    ...(hint ? { hint } : {}),
    verdict: judgePhoto({ failure, ...(fate.sight === undefined ? {} : { sight: fate.sight }) }),
  };
}

/** Of a photo that was measured, before or without an adjustment. */
export function recordMeasured(
  fate: PhotoFate,
  examined: ExaminedPhoto,
  board: Board,
): PhotoRecord {
  const { photo, marks, second } = examined;
  const [x, y] = marks.families;
  const all = [marks, ...(second === undefined ? [] : [second.marks])];
  const count = (of: (one: MeasuredMarks) => number) => all.reduce((n, one) => n + of(one), 0);
  const strokes = countStrokes(examined, board);
  return {
    ...common(fate),
    used: true,
    ...(photo.exif.takenAt === undefined ? {} : { takenAt: photo.exif.takenAt }),
    sharpness: (x.edgePx + y.edgePx) / 2,
    polarity: x.polarity === y.polarity ? x.polarity : 'mixed',
    strokesFound: strokes.found,
    segmentsFound: count(({ observations }) => observations.length),
    segmentsPredicted: count(({ predicted }) => predicted),
    corners: cornersOf(board.grid, (cx, cy) => imageFromCommanded(marks.map, cx, cy)),
    verdict: judgePhoto({
      families: marks.families,
      strokes,
      isTurned: isTurnedEnough(board),
      ...(fate.sight === undefined ? {} : { sight: fate.sight }),
    }),
  };
}

/** What the adjustment adds to it. */
export function recordAdjusted(record: PhotoRecord, view: AdjustedView, board: Board): PhotoRecord {
  const { adjustment, photo } = view;
  const { input } = adjustment.network;
  const { stochastic } = adjustment;
  const left = input.observations.flatMap((seen, i): SeenResidual[] => {
    if (seen.photo !== photo || !isKept(input, stochastic, i)) return [];
    const [u, v] = storedFromSensor(view.stored, view.turn, seen.uPx, seen.vPx);
    const [u1, v1] = storedFromSensor(
      view.stored,
      view.turn,
      seen.uPx + seen.normalU,
      seen.vPx + seen.normalV,
    );
    const residualPx = adjustment.residualPx[i];
    const normalised = residualPx / (stochastic.sigmaPx[i] * stochastic.photoFactor[photo]);
    return [{ u, v, normalU: u1 - u, normalV: v1 - v, residualPx, normalised }];
  });
  const square = left.reduce((sum, { residualPx }) => sum + residualPx ** 2, 0);
  const count = left.length;
  const residuals = summariseResiduals(left, view.stored);
  const { tiltRad, rollRad, mmPerPx } = viewOf(adjustment, photo);
  return {
    ...record,
    camera: input.photos[photo].camera,
    ...(count > 0 ? { reprojectionRmsPx: Math.sqrt(square / count) } : {}),
    ...(residuals === undefined ? {} : { residuals }),
    tiltRad,
    rollRad,
    mmPerPx,
    corners: cornersOf(board.grid, predictor(view)),
  };
}

/** Overlay of a photo: adjusted lines and the marks as seen. Without an adjustment: the map's lines. */
export function overlayOf(
  examined: ExaminedPhoto,
  board: Board,
  corners: readonly Corner[],
  adjusted?: AdjustedView,
): OverlayContent {
  const { photo, marks, second } = examined;
  const programs = [
    { grid: board.grid, marks },
    ...(board.second === undefined || second === undefined
      ? []
      : [{ grid: board.second.grid, marks: second.marks }]),
  ];
  const lines = programs.flatMap((program, placement) =>
    predictedLines(
      program.grid,
      placement,
      adjusted
        ? predictor(adjusted, placement)
        : (x, y) => imageFromCommanded(program.marks.map, x, y),
    ),
  );
  return {
    widthPx: photo.widthPx,
    heightPx: photo.heightPx,
    lines,
    marks: adjusted ? adjustedMarks(adjusted) : [],
    corners,
    caption: photo.name,
  };
}

function predictedLines(
  { linesAtX, linesAtY }: Grid,
  placement: number,
  predict: (x: number, y: number) => readonly [number, number],
): OverlayContent['lines'] {
  const axes = [['x', linesAtX] as const, ['y', linesAtY] as const];
  return axes.flatMap(([axis, list]) =>
    list.map(({ positionMm, fromMm, toMm }) => ({
      axis,
      placement,
      positionMm,
      fromMm,
      toMm,
      points: Array.from({ length: POINTS_PER_LINE + 1 }, (_, k) => {
        const along = fromMm + ((toMm - fromMm) * k) / POINTS_PER_LINE;
        return axis === 'x' ? predict(positionMm, along) : predict(along, positionMm);
      }),
    })),
  );
}

function adjustedMarks(view: AdjustedView): OverlayContent['marks'] {
  const { adjustment, photo } = view;
  const { input } = adjustment.network;
  const stored = (u: number, v: number) => storedFromSensor(view.stored, view.turn, u, v);
  return input.observations.flatMap((seen, i) => {
    if (seen.photo !== photo) return [];
    const [u, v] = stored(seen.uPx, seen.vPx);
    const [u1, v1] = stored(seen.uPx + seen.normalU, seen.vPx + seen.normalV);
    return [
      {
        axis: input.segments[seen.segment].axis,
        u,
        v,
        normalU: u1 - u,
        normalV: v1 - v,
        // With the mark's own wander: that is what a look at the picture shows.
        residualPx: adjustment.linearised.residual[i],
        used: isKept(input, adjustment.stochastic, i),
      },
    ];
  });
}

/** Pixel of a board position (mm) in the picture as it is stored. */
export function storedFromBoard({ adjustment, photo, stored, turn }: AdjustedView) {
  const project = imageFromBoard(adjustment, photo);
  return (x: number, y: number): readonly [number, number] => {
    const [u, v] = project(x, y);
    return storedFromSensor(stored, turn, u, v);
  };
}

/** The picture as it is stored, as a view of machine coordinates. */
export function storedView({ adjustment, photo, stored, turn }: AdjustedView): CommandedView {
  const view = commandedView(adjustment, photo);
  return {
    ...view,
    imageAt(x, y, height) {
      const [u, v] = view.imageAt(x, y, height);
      return storedFromSensor(stored, turn, u, v);
    },
  };
}

/** Stored pixel of a commanded position of a placement after the adjustment. */
function predictor(view: AdjustedView, placement = 0) {
  const project = storedFromBoard(view);
  const { network, state } = view.adjustment;
  const at = network.placementAt[placement];
  const [turn, shiftX, shiftY] = at < 0 ? [0, 0, 0] : state.values.subarray(at, at + 3);
  const [cos, sin] = [Math.cos(turn), Math.sin(turn)];
  return (x: number, y: number) => {
    const [bx, by] = boardFromCommanded(view.adjustment, [x, y]);
    return project(cos * bx - sin * by + shiftX, sin * bx + cos * by + shiftY);
  };
}

function common({ path, sha256, size }: PhotoFate) {
  return { file: basename(path), ...(sha256 ? { sha256 } : {}), ...size };
}

function cornersOf(
  grid: Grid,
  predict: (x: number, y: number) => readonly [number, number],
): Corner[] {
  const ends = (lines: Grid['linesAtX']) => [
    lines[0].positionMm,
    lines[lines.length - 1].positionMm,
  ];
  const [x0, x1] = ends(grid.linesAtX);
  const [y0, y1] = ends(grid.linesAtY);
  return [
    [x0, y0],
    [x1, y0],
    [x1, y1],
    [x0, y1],
  ].map(([x, y]) => {
    const [u, v] = predict(x, y);
    return { x, y, u, v };
  });
}

function countStrokes({ marks, second }: ExaminedPhoto, board: Board) {
  const programs = [
    { marks, segments: board.segments },
    ...(board.second === undefined || second === undefined
      ? []
      : [{ marks: second.marks, segments: board.second.segments }]),
  ];
  const counts = programs.map((program) => {
    const strokes = new Map(program.segments.map((segment) => [segment.id, segment.strokeId]));
    return {
      found: new Set(program.marks.observations.map((o) => strokes.get(o.segmentId))).size,
      of: new Set(strokes.values()).size,
    };
  });
  return {
    found: counts.reduce((sum, { found }) => sum + found, 0),
    of: counts.reduce((sum, one) => sum + one.of, 0),
  };
}
