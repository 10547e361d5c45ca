/** Network input from the scene generator's exact projections plus noise, without pictures. */

import { solve } from 'ml-matrix';
import {
  gridProgram,
  type MachineTruth,
  machineTruth,
  projectCommanded,
  type RandomSceneOptions,
  randomScene,
  type Scene,
  simulateObservations,
  tapeLength,
} from '../../samples/index.js';
import type { Stroke } from '../../shared/stroke.js';
import type { NetworkInput } from '../../src/network/index.js';
import { type BoardSegment, cutStrokes, describeGrid, type Grid } from '../../src/program/index.js';
import { unwrap } from '../../src/quantity/index.js';

export interface SimulatedNetworkOptions {
  readonly seed: number;
  readonly sigmaPx: number;
  readonly sigmaMarkMm: number;
  /** Photos used, indices; all where absent. */
  readonly photos?: readonly number[];
  readonly focalKnown: boolean;
  readonly taped: boolean;
  readonly scene?: Partial<RandomSceneOptions>;
  readonly strokes?: readonly Stroke[];
  readonly periodsMm?: { readonly x?: number; readonly y?: number };
  /** Errors set on top of the drawn ones. */
  readonly errors?: (drawn: Scene['machine']) => Scene['machine'];
  /** Changes to the finished scene: cameras, stands. */
  readonly prepare?: (scene: Scene) => Scene;
  /** What the files state about the focal length; a value near the truth of the scenes where absent. */
  readonly exifFocalPx?: number;
  /** Bow along X, along Y, and twist, mm; flat where absent. */
  readonly boardMm?: readonly [number, number, number];
}

export interface SimulatedNetwork {
  readonly input: NetworkInput;
  readonly truth: MachineTruth;
  readonly scene: Scene;
}

/** What a phone writes into EXIF: rounded, near the truth of the scenes (2880 to 3200 px). */
const EXIF_FOCAL_PX = 3060;

export function simulateNetwork(options: SimulatedNetworkOptions): SimulatedNetwork {
  const strokes = options.strokes ?? gridProgram({}).strokes;
  const grid = unwrap(describeGrid(strokes));
  const { segments } = cutStrokes(strokes, grid);
  const drawn = randomScene(options.seed, strokes, options.scene ?? {});
  const machine = options.errors?.(drawn.scene.machine) ?? drawn.scene.machine;
  const { fromMm, toMm, uMm, lengthMm, trueLengthMm } = drawn.taped;
  // The tape lies on the marks of the machine as it is, read with the error that was drawn.
  const taped = tapeLength({ ...drawn.scene, machine }, fromMm, toMm, uMm, lengthMm - trueLengthMm);
  const flat = withBoard({ ...drawn.scene, machine }, grid, options.boardMm);
  const scene = options.prepare?.(flat) ?? flat;
  const places = segments.map((segment) => ({
    ...placeOf(segment),
    elapsed: segment.strokeId / Math.max(1, strokes.length - 1),
  }));
  const noise = { sigmaPx: options.sigmaPx, sigmaMarkMm: options.sigmaMarkMm, seed: options.seed };
  const used = options.photos ?? scene.photos.map((_, i) => i);
  const seen = simulateObservations(scene, places, noise).filter((o) =>
    used.includes(o.photoIndex),
  );
  const { widthPx, heightPx } = scene.camera;
  const input: NetworkInput = {
    layout: {
      linesAtX: grid.linesAtX.map((line) => line.positionMm),
      linesAtY: grid.linesAtY.map((line) => line.positionMm),
      rungsAtX: grid.rungsAtX.map((line) => line.positionMm),
      rungsAtY: grid.rungsAtY.map((line) => line.positionMm),
      ...(options.periodsMm === undefined ? {} : { periodsMm: options.periodsMm }),
      gantryAxis: scene.machine.gantryAxis,
    },
    cameras: [
      {
        widthPx,
        heightPx,
        ...(options.focalKnown ? { focalLengthPx: options.exifFocalPx ?? EXIF_FOCAL_PX } : {}),
      },
    ],
    photos: used.map((photoIndex) => ({
      camera: 0,
      homography: fitHomography(
        seen.filter((o) => o.photoIndex === photoIndex).map((o) => [o.xMm, o.yMm, o.u, o.v]),
      ),
      centrePx: [(widthPx - 1) / 2, (heightPx - 1) / 2],
      radiusPx: Math.hypot(widthPx, heightPx) / 2,
      k1: 0,
      k2: 0,
    })),
    placements: [{ rotationRad: 0, shiftMm: [0, 0] }],
    segments: segments.map((segment, i) => ({
      placement: 0,
      axis: segment.axis,
      line: segment.lineIndex,
      xMm: places[i].xMm,
      yMm: places[i].yMm,
      approach: segment.approach,
      isRepeated: segment.isRepeated,
    })),
    observations: seen.map((o) => {
      const ahead = segments[o.place].axis === 'x' ? [0, 1] : [1, 0];
      const along = [-1, 1].map((side) =>
        projectCommanded(
          scene,
          o.photoIndex,
          o.xMm + side * ahead[0],
          o.yMm + side * ahead[1],
          o.approachX,
          o.approachY,
        ),
      );
      const du = along[1][0] - along[0][0];
      const dv = along[1][1] - along[0][1];
      const length = Math.hypot(du, dv);
      return {
        photo: used.indexOf(o.photoIndex),
        segment: o.place,
        uPx: o.u,
        vPx: o.v,
        normalU: -dv / length,
        normalV: du / length,
        // Deliberately not the true noise: the adjustment has to find that.
        sigmaPx: 2 * options.sigmaPx,
      };
    }),
    evidence: options.taped
      ? [
          {
            kind: 'length',
            what: 'tape',
            fromMm: taped.fromMm,
            toMm: taped.toMm,
            lengthMm: taped.lengthMm,
            uMm: taped.uMm,
            tapeScaleU: 0,
          },
        ]
      : [],
  };
  return { input, truth: machineTruth(scene.machine, strokes), scene };
}

function withBoard(scene: Scene, grid: Grid, shape: SimulatedNetworkOptions['boardMm']): Scene {
  if (shape === undefined) return scene;
  const spans = [grid.linesAtX, grid.linesAtY].map((lines) => [
    lines[0].positionMm,
    lines[lines.length - 1].positionMm,
  ]);
  const [[x0, x1], [y0, y1]] = spans;
  const [bowXMm, bowYMm, twistMm] = shape;
  return {
    ...scene,
    board: {
      ...scene.board,
      shape: {
        centreMm: [(x0 + x1) / 2, (y0 + y1) / 2],
        halfSizeMm: [(x1 - x0) / 2, (y1 - y0) / 2],
        bowXMm,
        bowYMm,
        twistMm,
      },
    },
  };
}

function placeOf(segment: BoardSegment) {
  return {
    xMm: (segment.fromMm[0] + segment.toMm[0]) / 2,
    yMm: (segment.fromMm[1] + segment.toMm[1]) / 2,
    approachX: segment.axis === 'x' ? segment.approach : (0 as const),
    approachY: segment.axis === 'y' ? segment.approach : (0 as const),
  };
}

/** Least squares on u (h31 x + h32 y + 1) = h11 x + h12 y + h13, in units that keep it well scaled. */
export function fitHomography(pairs: readonly (readonly number[])[]): Float64Array {
  const size = 1000;
  const rows: number[][] = [];
  const right: number[][] = [];
  for (const pair of pairs) {
    const [x, y, u, v] = pair.map((value) => value / size);
    rows.push([x, y, 1, 0, 0, 0, -u * x, -u * y], [0, 0, 0, x, y, 1, -v * x, -v * y]);
    right.push([u], [v]);
  }
  const h = solve(rows, right, true).to1DArray();
  return Float64Array.from([
    h[0],
    h[1],
    h[2] * size,
    h[3],
    h[4],
    h[5] * size,
    h[6] / size,
    h[7] / size,
    1,
  ]);
}
