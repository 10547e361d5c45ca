/** Network input for boards that were marked more than once, from the scene generator, without pictures. */

import {
  gridProgram,
  type MachineErrors,
  type MachineTruth,
  type MarkedPlacement,
  machineTruth,
  observePlacements,
  type PlacementNoise,
  type RandomSceneOptions,
  randomScene,
  type Scene,
} from '../../samples/index.js';
import { createRandomSource } from '../../samples/random-source.js';
import type { NetworkInput } from '../../src/network/index.js';
import { cutStrokes, describeGrid } from '../../src/program/index.js';
import { unwrap } from '../../src/quantity/index.js';
import { joinLayouts } from './join-layouts.js';
import { fitHomography } from './simulated-network.js';

export interface TurnedPlan {
  /** Of each placement against the first, degrees; the first is 0. */
  readonly turnsDeg: readonly number[];
  /** Shift of a placement beyond turning about the grid's middle, mm. */
  readonly shiftsMm?: readonly (readonly [number, number])[];
  readonly tiltDeg: readonly [number, number];
  readonly rolls?: readonly number[];
  readonly lensState?: 'corrected' | 'raw';
  readonly focalKnown?: boolean;
  /** Largest height at the ends of the grid, mm; signs and shares along X, Y and twist are drawn. */
  readonly bowMm?: number;
  /** Part of the bow that is no parabola, as a share of it. */
  readonly oddBow?: number;
  /** Smooth bend of the picture that no lens model has, px. */
  readonly bendPx?: number;
  readonly lines?: number;
  readonly pitchMm?: number;
  readonly machines?: readonly ((drawn: MachineErrors) => MachineErrors)[];
  readonly edited?: PlacementNoise['editedPixel'];
  readonly beliefs?: NetworkInput['beliefs'];
}

/** A board that is no plane, marked both ways; a picture bent beyond any lens model. */
export const BOWED: TurnedPlan = {
  turnsDeg: [0, 90],
  tiltDeg: [0, 40],
  bowMm: 0.8,
  oddBow: 0.3,
  bendPx: 2,
};

export interface TurnedBoard {
  readonly input: NetworkInput;
  readonly truth: MachineTruth;
  /** Of each placement's own machine. */
  readonly truths: readonly MachineTruth[];
  readonly scene: Scene;
}

export const TURNED_NOISE = { sigmaPx: 0.03, sigmaMarkMm: 0.02 };

/** A placement turned about the middle of the grid; every second one is half a pitch off. */
export function drawTurnedBoard(plan: TurnedPlan, seed: number): TurnedBoard {
  const { lines = 13, pitchMm = 50 } = plan;
  const random = createRandomSource(seed).fork('turned board');
  const side = (lines - 1) * pitchMm;
  const programs = plan.turnsDeg.map((_, i) => {
    const first = (i % 2) * (pitchMm / 2);
    const at = Array.from({ length: lines - (i % 2) }, (_, k) => first + k * pitchMm);
    return gridProgram({ xMm: at, yMm: at }).strokes;
  });
  const all = programs.flat();
  const options: Partial<RandomSceneOptions> = {
    rolls: plan.rolls ?? [random.between(0, 360)],
    tiltDeg: plan.tiltDeg,
    lensState: plan.lensState ?? 'raw',
  };
  const drawn = randomScene(seed, all, options).scene;
  const bow = plan.bowMm ?? 0;
  const shape = {
    centreMm: [side / 2, side / 2] as const,
    halfSizeMm: [side / 2, side / 2] as const,
    bowXMm: bow * random.between(-1, 1),
    bowYMm: bow * random.between(-1, 1),
    twistMm: 0.5 * bow * random.between(-1, 1),
  };
  const scene: Scene = { ...drawn, board: { ...drawn.board, shape } };

  const grids = programs.map((strokes) => unwrap(describeGrid(strokes)));
  const cuts = programs.map((strokes, i) => cutStrokes(strokes, grids[i]!).segments);
  const machines = plan.turnsDeg.map(
    (_, i) => plan.machines?.[i]?.(scene.machine) ?? scene.machine,
  );
  const placements = plan.turnsDeg.map((turnDeg, i): MarkedPlacement => {
    // Laid by hand: a degree and some millimetres off.
    const turnRad = i === 0 ? 0 : ((turnDeg + random.between(-1, 1)) * Math.PI) / 180;
    const [c, s] = [Math.cos(turnRad), Math.sin(turnRad)];
    const more = plan.shiftsMm?.[i] ?? [0, 0];
    const by = (mm: number) => (i === 0 ? 0 : mm + random.between(-5, 5));
    const m = side / 2;
    return {
      turnRad,
      shiftMm: [m - c * m + s * m + by(more[0]), m - s * m - c * m + by(more[1])],
      places: cuts[i]!.map(({ axis, approach, fromMm, toMm }) => ({
        xMm: (fromMm[0] + toMm[0]) / 2,
        yMm: (fromMm[1] + toMm[1]) / 2,
        approachX: axis === 'x' ? approach : (0 as const),
        approachY: axis === 'y' ? approach : (0 as const),
        runsAlong: axis === 'x' ? ('y' as const) : ('x' as const),
      })),
      machine: machines[i]!,
    };
  });
  const seen = observePlacements(scene, placements, {
    ...TURNED_NOISE,
    seed,
    extraHeightMm: oddHeight(bow * (plan.oddBow ?? 0), side, random),
    editedPixel: plan.edited ?? bentPixel(plan.bendPx ?? 0, scene, random),
  });

  const own = grids.map((grid) => ({
    linesAtX: grid.linesAtX.map((line) => line.positionMm),
    linesAtY: grid.linesAtY.map((line) => line.positionMm),
    gantryAxis: scene.machine.gantryAxis,
  }));
  const { layout, lineOf } = joinLayouts([own[0]!, ...own.slice(1)]);
  const { widthPx, heightPx } = scene.camera;
  const firstOf = cuts.map((_, i) =>
    cuts.slice(0, i).reduce((sum, segments) => sum + segments.length, 0),
  );
  const input: NetworkInput = {
    layout,
    cameras: [{ widthPx, heightPx, ...(plan.focalKnown === true ? { focalLengthPx: 3060 } : {}) }],
    photos: scene.photos.map((_, photo) => ({
      camera: 0,
      homography: fitHomography(
        seen
          .filter((o) => o.photoIndex === photo && o.placement === 0)
          .map((o) => {
            const { xMm, yMm } = placements[0]!.places[o.place]!;
            return [xMm, yMm, o.u, o.v];
          }),
      ),
      centrePx: [(widthPx - 1) / 2, (heightPx - 1) / 2],
      radiusPx: Math.hypot(widthPx, heightPx) / 2,
      k1: 0,
      k2: 0,
    })),
    placements: placements.map(({ turnRad, shiftMm }, i) => ({
      // As found in a picture: roughly.
      rotationRad: i === 0 ? 0 : turnRad + 2e-3,
      shiftMm: i === 0 ? [0, 0] : [shiftMm[0] + 0.5, shiftMm[1] - 0.5],
    })),
    segments: cuts.flatMap((segments, placement) =>
      segments.map((segment, k) => ({
        placement,
        axis: segment.axis,
        line:
          segment.lineIndex === undefined
            ? undefined
            : lineOf[placement]!(segment.axis, segment.lineIndex),
        xMm: placements[placement]!.places[k]!.xMm,
        yMm: placements[placement]!.places[k]!.yMm,
        approach: segment.approach,
      })),
    ),
    observations: seen.map((o) => ({
      photo: o.photoIndex,
      segment: firstOf[o.placement]! + o.place,
      uPx: o.u,
      vPx: o.v,
      normalU: -o.alongV,
      normalV: o.alongU,
      // Deliberately not the true noise: the adjustment has to find that.
      sigmaPx: 2 * TURNED_NOISE.sigmaPx,
    })),
    evidence: [],
    ...(plan.beliefs === undefined ? {} : { beliefs: plan.beliefs }),
  };
  return {
    input,
    truth: machineTruth(scene.machine, all),
    truths: machines.map((machine) => machineTruth(machine, all)),
    scene,
  };
}

/** An S along a drawn direction and a dome flatter in the middle than a parabola. */
function oddHeight(
  size: number,
  side: number,
  random: ReturnType<typeof createRandomSource>,
): (x: number, y: number) => number {
  const angle = random.between(0, 2 * Math.PI);
  const [s, quartic] = [random.between(-1, 1), random.between(-1, 1)];
  return (x, y) => {
    const [p, q] = [x / side - 0.5, y / side - 0.5];
    const along = 2 * (p * Math.cos(angle) + q * Math.sin(angle));
    return size * (s * along ** 3 + quartic * 8 * (p ** 4 + q ** 4));
  };
}

/** Waves longer than the picture: smooth, and not among the terms of any lens model. */
function bentPixel(
  size: number,
  { camera }: Scene,
  random: ReturnType<typeof createRandomSource>,
): (u: number, v: number) => [number, number] {
  const waves = [0, 1].map(() => ({
    a: random.between(-3.5, 3.5),
    b: random.between(-3.5, 3.5),
    phase: random.between(0, 2 * Math.PI),
  }));
  return (u, v) => {
    const [p, q] = [u / camera.widthPx - 0.5, v / camera.widthPx - 0.5];
    const [du, dv] = waves.map(({ a, b, phase }) => size * Math.sin(a * p + b * q + phase));
    return [u + du!, v + dv!];
  };
}
