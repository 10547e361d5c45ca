/** How the grid lies in the picture: how much of it is inside, how much of the picture it fills. */

import type { PictureSide } from '../../shared/schemas/photo-verdict.js';
import { boxOf, type DisplayFrame, type PictureBox } from '../imaging/index.js';
import type { Grid, GridLine } from '../program/index.js';
import { type ImageMap, imageFromCommanded } from './image-map.js';

export interface GridCoverage {
  /** Places evenly spread over the board between the lines; n×2, row-major [u, v], px, sensor frame. */
  readonly pointsPx: Float64Array;
  /** Share of the grid's area inside the picture. */
  readonly inPicture: number;
  /** Shares of the displayed picture's width and height. */
  readonly width: number;
  readonly height: number;
  /** As displayed. */
  readonly cut: readonly PictureSide[];
  readonly mmPerPx: number;
  /** Of the part inside, displayed px. */
  readonly box: PictureBox;
}

/** Off the lines on both sides, share of the gap: the marks themselves are no background. */
const OFF_LINES = 0.2;
const PER_GAP = 5;
/** A side is named from this share of the grid beyond it on: less is the map's own doubt at the rim. */
const CUT_SHARE = 0.005;

/**
 * @param frame of the whole picture, not shrunk.
 * @returns undefined where none of the grid is inside.
 */
export function gridCoverage(
  grid: Grid,
  map: ImageMap,
  frame: DisplayFrame,
): GridCoverage | undefined {
  const xs = between(grid.linesAtX);
  const ys = between(grid.linesAtY);
  const pointsPx = new Float64Array(2 * xs.length * ys.length);
  const beyond: Record<PictureSide, number> = { left: 0, right: 0, top: 0, bottom: 0 };
  let inside = 0;
  let areaPx = 0;
  xs.forEach((x, i) => {
    ys.forEach((y, j) => {
      const seen = imageFromCommanded(map, x, y);
      pointsPx.set(seen, 2 * (i * ys.length + j));
      const [side] = sidesBeyond(frame.displayFromSensor(seen), frame);
      if (side !== undefined) beyond[side]++;
      else {
        inside++;
        areaPx += pxPerSquareMm(map, x, y);
      }
    });
  });
  if (inside === 0) return undefined;
  const total = xs.length * ys.length;
  const box = boxInside(grid, map, frame);
  return {
    pointsPx,
    inPicture: inside / total,
    width: Math.max(0, box.right - box.left) / frame.widthPx,
    height: Math.max(0, box.bottom - box.top) / frame.heightPx,
    cut: (['left', 'right', 'top', 'bottom'] as const).filter(
      (side) => beyond[side] > CUT_SHARE * total,
    ),
    mmPerPx: Math.sqrt(inside / areaPx),
    box,
  };
}

/** Places between neighbouring lines. */
function between(lines: readonly GridLine[]): number[] {
  return lines.slice(1).flatMap((line, i) => {
    const from = lines[i].positionMm;
    const gap = line.positionMm - from;
    return Array.from(
      { length: PER_GAP },
      (_, k) => from + gap * (OFF_LINES + ((1 - 2 * OFF_LINES) * k) / (PER_GAP - 1)),
    );
  });
}

/** The side that the point lies farthest beyond comes first. */
function sidesBeyond(
  [x, y]: readonly [number, number],
  { widthPx, heightPx }: DisplayFrame,
): PictureSide[] {
  const excess: [PictureSide, number][] = [
    ['left', -x],
    ['right', x - widthPx],
    ['top', -y],
    ['bottom', y - heightPx],
  ];
  return excess
    .filter(([, by]) => by > 0)
    .sort((a, b) => b[1] - a[1])
    .map(([side]) => side);
}

/** Determinant of the map's derivative; px²/mm². */
function pxPerSquareMm(map: ImageMap, x: number, y: number): number {
  const [u, v] = imageFromCommanded(map, x, y);
  const [ux, vx] = imageFromCommanded(map, x + 1, y);
  const [uy, vy] = imageFromCommanded(map, x, y + 1);
  return Math.abs((ux - u) * (vy - v) - (uy - u) * (vx - v));
}

/** Box about the grid's outermost lines, cut to the picture. */
function boxInside(grid: Grid, map: ImageMap, frame: DisplayFrame): PictureBox {
  const xs = grid.linesAtX.map((line) => line.positionMm);
  const ys = grid.linesAtY.map((line) => line.positionMm);
  const { left, top, right, bottom } = boxOf(
    xs.flatMap((x) => ys.map((y) => frame.displayFromSensor(imageFromCommanded(map, x, y)))),
  );
  return {
    left: Math.max(0, left),
    top: Math.max(0, top),
    right: Math.min(frame.widthPx, right),
    bottom: Math.min(frame.heightPx, bottom),
  };
}
