/** What the result says of each photo, and what its overlay picture shows. */

import { basename } from 'node:path';
import type { PhotoRecord } from '../../shared/schemas/measurement.js';
import { imageFromCommanded } from '../marks/index.js';
import {
  type Adjustment,
  boardFromCommanded,
  imageFromBoard,
  isKept,
  viewOf,
} from '../network/index.js';
import type { Grid } from '../program/index.js';
import type { OverlayContent } from '../report/index.js';
import type { Board, ExaminedPhoto, PhotoFate } from './examine-photo.js';
import { judgePhoto } from './judge-photo.js';
import { type PixelSize, type StoredTurn, storedFromSensor } from './stored-turn.js';

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
  const { photo, marks } = examined;
  const [x, y] = marks.families;
  const strokes = countStrokes(examined, board);
  return {
    ...common(fate),
    used: true,
    ...(photo.exif.takenAt === undefined ? {} : { takenAt: photo.exif.takenAt }),
    sharpness: (x.edgePx + y.edgePx) / 2,
    polarity: x.polarity === y.polarity ? x.polarity : 'mixed',
    strokesFound: strokes.found,
    segmentsFound: marks.observations.length,
    segmentsPredicted: marks.predicted,
    corners: cornersOf(board.grid, (cx, cy) => imageFromCommanded(marks.map, cx, cy)),
    verdict: judgePhoto({
      families: marks.families,
      strokes,
      ...(fate.sight === undefined ? {} : { sight: fate.sight }),
    }),
  };
}

/** What the adjustment adds to it. */
export function recordAdjusted(record: PhotoRecord, view: AdjustedView, board: Board): PhotoRecord {
  const { adjustment, photo } = view;
  const { input } = adjustment.network;
  let square = 0;
  let count = 0;
  input.observations.forEach((seen, i) => {
    if (seen.photo !== photo || !isKept(input, adjustment.stochastic, i)) return;
    square += adjustment.residualPx[i] ** 2;
    count++;
  });
  const { tiltRad, rollRad, mmPerPx } = viewOf(adjustment, photo);
  return {
    ...record,
    camera: input.photos[photo].camera,
    ...(count > 0 ? { reprojectionRmsPx: Math.sqrt(square / count) } : {}),
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
  const { photo, marks } = examined;
  const predict = adjusted
    ? predictor(adjusted)
    : (x: number, y: number) => imageFromCommanded(marks.map, x, y);
  const axes = [['x', board.grid.linesAtX] as const, ['y', board.grid.linesAtY] as const];
  const lines = axes.flatMap(([axis, list]) =>
    list.map(({ positionMm, fromMm, toMm }) => ({
      axis,
      points: Array.from({ length: POINTS_PER_LINE + 1 }, (_, k) => {
        const along = fromMm + ((toMm - fromMm) * k) / POINTS_PER_LINE;
        return axis === 'x' ? predict(positionMm, along) : predict(along, positionMm);
      }),
    })),
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

/** Stored pixel of a commanded position after the adjustment. */
function predictor(view: AdjustedView) {
  const project = storedFromBoard(view);
  return (x: number, y: number) => {
    const [bx, by] = boardFromCommanded(view.adjustment, [x, y]);
    return project(bx, by);
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

function countStrokes({ marks }: ExaminedPhoto, { segments }: Board) {
  const strokes = new Map(segments.map((segment) => [segment.id, segment.strokeId]));
  return {
    found: new Set(marks.observations.map((o) => strokes.get(o.segmentId))).size,
    of: new Set(strokes.values()).size,
  };
}
