/** Measured photos → the adjustment, what the result says of it, and what looks doubtful. */

import type { EvidenceRecord, Measurement } from '../../shared/schemas/measurement.js';
import {
  type Adjustment,
  adjust,
  isKept,
  isMeasuredOnBoard,
  type NetworkEvidence,
  type NetworkInput,
  type RuleInPicture,
} from '../network/index.js';
import type { BoardSegment } from '../program/index.js';
import { type Finding, type Outcome, success } from '../quantity/index.js';
import { allPositions, type Board, indexOfPosition, isMarkedAgain } from './board.js';
import type { ExaminedPhoto, PhotoFate } from './examine-photo.js';
import type { GroupedPhotos } from './group-cameras.js';
import { NO_POINTS, type PointsOnBoard } from './place-points.js';
import { type StoredTurn, sensorFromStored, turnMap, turnObservation } from './stored-turn.js';

/** A photo whose scatter is this many times the others' shows another board, or moved. */
const DISAGREEING = 4;

/** Beside all others a turn is asked once more; seen to settle at the first time. */
const MOST_ROUNDS = 1;

/** A photo that was measured, and its place among all that were given. */
export interface Usable {
  readonly fate: PhotoFate;
  readonly index: number;
  readonly examined: ExaminedPhoto;
}

/** The adjustment, and how software had turned each photo. */
export interface AdjustedPhotos {
  readonly adjustment: Adjustment;
  readonly turns: readonly StoredTurn[];
  /** The photos and the other evidence alone, where nodes were measured on the board as well. */
  readonly withoutPoints?: Adjustment;
}

/** What is known besides the photos. */
export interface Told {
  readonly evidence: readonly NetworkEvidence[];
  /** Rules in the photos; `photo` counts the usable ones. */
  readonly rules: readonly RuleInPicture[];
  readonly points: PointsOnBoard;
}

/**
 * Adjusts all photos at once, and what is known besides; without photos, that alone. Photos that were stored turned are turned back; which way they had been
 * turned is told by the fit.
 *
 * Fails: NO_CONVERGENCE.
 */
export function adjustPhotos(
  usable: readonly Usable[],
  board: Board,
  { groups, cameraOf, crossed }: GroupedPhotos,
  layout: NetworkInput['layout'],
  { evidence, rules, points }: Told,
): Outcome<AdjustedPhotos> {
  const run = (chosen: readonly number[], turns: readonly StoredTurn[], onBoard = points) => {
    const photoSegments = networkSegments(board);
    const photoPlacements = networkPlacements(board);
    const seen = turnedBack(
      chosen.map((i) => usable[i]),
      board,
      chosen.map((i) => cameraOf[i]),
      chosen.map((i) => turns[i]),
    );
    return adjust({
      // The machine may have changed between old marks and fresh ones.
      ...(isMarkedAgain(board) ? { beliefs: { machinePerPlacement: true } } : {}),
      layout,
      cameras: groups.map(({ camera }) => camera),
      placements: [...photoPlacements, ...onBoard.placements],
      segments: [
        ...photoSegments,
        ...onBoard.segments.map((one) => ({
          ...one,
          placement: one.placement + photoPlacements.length,
        })),
      ],
      evidence: [...evidence, ...rulesOf(rules, chosen, turns, usable)],
      photos: seen.photos,
      observations: [
        ...seen.observations,
        ...onBoard.observations.map((one) => ({
          ...one,
          photo: chosen.length,
          segment: one.segment + photoSegments.length,
        })),
      ],
    });
  };
  const all = usable.map((_, i) => i);
  const turns = chooseTurns(all, crossed, run);
  const best = run(all, turns);
  if (!best.ok) return best;
  const bothSides = all.length > 0 && points.observations.length > 0;
  const rest = bothSides ? run(all, turns, NO_POINTS) : undefined;
  return success({
    adjustment: best.value,
    turns,
    ...(rest?.ok ? { withoutPoints: rest.value } : {}),
  });
}

/** The rules of the chosen photos, in the sensor's own frame. */
function rulesOf(
  rules: readonly RuleInPicture[],
  chosen: readonly number[],
  turns: readonly StoredTurn[],
  usable: readonly Usable[],
): RuleInPicture[] {
  return rules.flatMap((rule) => {
    const photo = chosen.indexOf(rule.photo);
    if (photo < 0) return [];
    const turned = (px: readonly [number, number]) =>
      sensorFromStored(usable[rule.photo].examined.photo, turns[rule.photo], px[0], px[1]);
    return [{ ...rule, photo, fromPx: turned(rule.fromPx), toPx: turned(rule.toPx) }];
  });
}

type Run = (chosen: readonly number[], turns: readonly StoredTurn[]) => Outcome<Adjustment>;

/**
 * Each turned picture is tried both ways beside those that were not turned, and then once more beside
 * all: starting with all at once, one wrong turn makes the wrong turn of the next one look right.
 */
function chooseTurns(
  all: readonly number[],
  crossed: readonly boolean[],
  run: Run,
): readonly StoredTurn[] {
  const turns: StoredTurn[] = crossed.map((one) => (one ? 90 : 0));
  const straight = all.filter((i) => !crossed[i]);
  const misfit = (chosen: readonly number[], i: number, turn: StoredTurn) => {
    const tried = run(
      chosen,
      turns.map((one, k) => (k === i ? turn : one)),
    );
    return tried.ok ? tried.value.misfit : Number.POSITIVE_INFINITY;
  };
  const settle = (i: number, beside: readonly number[]) => {
    const [right, left] = ([90, 270] as const).map((turn) => misfit(beside, i, turn));
    const turn = left < right ? 270 : 90;
    const changed = turn !== turns[i];
    turns[i] = turn;
    return changed;
  };
  for (const i of all) if (crossed[i]) settle(i, [...straight, i]);
  for (let round = 0; round < MOST_ROUNDS; round++) {
    // Every one is asked, also after one has changed.
    const changes = all.filter((i) => crossed[i] && settle(i, all));
    if (changes.length === 0) break;
  }
  return turns;
}

/** The lines of all programs that marked the board: one machine made them. */
export function networkLayout(
  board: Board,
  gantryAxis: 'x' | 'y' | 'none',
  periodsMm: { readonly x?: number; readonly y?: number },
): NetworkInput['layout'] {
  return { ...linesOf(board), periodsMm, gantryAxis };
}

function linesOf(board: Board) {
  return {
    linesAtX: allPositions(board, (grid) => grid.linesAtX),
    linesAtY: allPositions(board, (grid) => grid.linesAtY),
    rungsAtX: allPositions(board, (grid) => grid.rungsAtX),
    rungsAtY: allPositions(board, (grid) => grid.rungsAtY),
  };
}

/** Of the first program's marks, and of the second's where there is one. */
export function networkPlacements({ second, between }: Board): NetworkInput['placements'] {
  const first = { rotationRad: 0, shiftMm: [0, 0] } as const;
  if (second === undefined) return [first];
  if (between === undefined) throw new Error('no photo has shown where the second marks lie');
  const { rotationRad, shiftMm } = between;
  return [first, { rotationRad, shiftMm }];
}

/** The first program's segments, then the second's. */
export function networkSegments(board: Board): NetworkInput['segments'] {
  const { linesAtX, linesAtY, rungsAtX, rungsAtY } = linesOf(board);
  const lineOf = ({ axis, isRung, fromMm }: BoardSegment) => {
    const [lines, rungs] = axis === 'x' ? [linesAtX, rungsAtX] : [linesAtY, rungsAtY];
    const at = fromMm[axis === 'x' ? 0 : 1];
    return isRung ? lines.length + indexOfPosition(rungs, at) : indexOfPosition(lines, at);
  };
  return [board.segments, board.second?.segments ?? []].flatMap((segments, placement) =>
    segments.map((segment) => ({
      placement,
      axis: segment.axis,
      line: lineOf(segment),
      xMm: (segment.fromMm[0] + segment.toMm[0]) / 2,
      yMm: (segment.fromMm[1] + segment.toMm[1]) / 2,
      approach: segment.approach,
      isRepeated: segment.isRepeated,
    })),
  );
}

function turnedBack(
  usable: readonly Usable[],
  board: Board,
  cameraOf: readonly number[],
  turns: readonly StoredTurn[],
): Pick<NetworkInput, 'photos' | 'observations'> {
  const all = [board.segments, board.second?.segments ?? []];
  const segmentAt = all.map((segments, placement) => {
    const before = placement === 0 ? 0 : board.segments.length;
    return new Map(segments.map((segment, i) => [segment.id, before + i]));
  });
  return {
    photos: usable.map(({ examined: { photo, marks } }, i) => ({
      camera: cameraOf[i],
      ...turnMap(photo, turns[i], marks.map),
    })),
    observations: usable.flatMap(({ examined: { photo, marks, second } }, i) =>
      [marks.observations, second?.marks.observations ?? []].flatMap((observations, placement) =>
        observations.map((stored) => {
          const seen = turnObservation(photo, turns[i], stored);
          return {
            photo: i,
            segment: segmentAt[placement].get(seen.segmentId) ?? 0,
            uPx: seen.uPx,
            vPx: seen.vPx,
            normalU: seen.normalU,
            normalV: seen.normalV,
            sigmaPx: seen.sigmaPx,
          };
        }),
      ),
    ),
  };
}

export function describeAdjustment(
  adjustment: Adjustment,
): Omit<NonNullable<Measurement['adjustment']>, 'seconds'> {
  const { network, stochastic, linearised } = adjustment;
  const { observations } = network.input;
  const sigmas = observations.flatMap((seen, i) =>
    isMeasuredOnBoard(network.input, seen)
      ? []
      : [stochastic.sigmaPx[i] * stochastic.photoFactor[seen.photo]],
  );
  const meanSquare = sigmas.reduce((sum, s) => sum + s * s, 0) / sigmas.length;
  // The first placement is that of the photos; without them the points' own come behind it.
  const placement = sigmas.length > 0 ? 0 : 1;
  const marks = stochastic.sigmaMarkMm[placement] / stochastic.markLikeness[placement];
  const outliers = observations.filter((_, i) => !isKept(network.input, stochastic, i)).length;
  return {
    observations: linearised.residual.length,
    unknowns: network.table.size,
    redundancy: adjustment.redundancy,
    varianceFactor: adjustment.varianceFactor,
    ...(sigmas.length > 0 ? { sigmaPixel: Math.sqrt(meanSquare) } : {}),
    // A grid that was taken for true has none.
    sigmaMark: network.input.beliefs?.onlyMachineTerms === undefined ? marks : 0,
    outliers,
    iterations: adjustment.iterations,
  };
}

/** @param photoNames of the photos in the adjustment, in its order. */
export function listDoubts(
  adjustment: Adjustment,
  photoNames: readonly string[],
  evidence: readonly EvidenceRecord[],
): Finding[] {
  const findings: Finding[] = [];
  const scatters = photoNames.map((name, photo) => ({
    name,
    scatter: photoScatter(adjustment, photo),
  }));
  for (const { name, scatter } of scatters) {
    const others = scatters.filter((other) => other.name !== name).map((other) => other.scatter);
    if (others.length < 2) continue;
    const middle = others.sort((a, b) => a - b)[others.length >> 1];
    if (scatter <= DISAGREEING * middle) continue;
    findings.push({
      code: 'PHOTO_DISAGREES',
      message: `it scatters by ${scatter.toFixed(2)} px, the others by ${middle.toFixed(2)} px: it shows another board, or phone or board moved`,
      hint: 'leave it out and take it again, from a stand, with the self-timer',
      where: name,
    });
  }
  for (const item of evidence) {
    if (item.En === undefined || item.En <= 1) continue;
    findings.push({
      code: 'EVIDENCE_CONTRADICTS',
      message: `the rest does not agree with it (En ${item.En.toFixed(1)}, should be below 1)`,
      hint: 'check the reading, and which crossings it joins',
      where: item.what,
    });
  }
  return findings;
}

function photoScatter(adjustment: Adjustment, photo: number): number {
  let square = 0;
  let count = 0;
  adjustment.network.input.observations.forEach((seen, i) => {
    if (seen.photo !== photo) return;
    square += adjustment.residualPx[i] ** 2;
    count++;
  });
  return Math.sqrt(square / Math.max(1, count));
}
