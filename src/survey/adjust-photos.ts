/** Measured photos → the adjustment, what the result says of it, and what looks doubtful. */

import { basename } from 'node:path';
import type { EvidenceRecord, Measurement } from '../../shared/schemas/measurement.js';
import {
  type Adjustment,
  adjust,
  type NetworkEvidence,
  type NetworkInput,
} from '../network/index.js';
import { type Finding, type Outcome, success } from '../quantity/index.js';
import type { Board, ExaminedPhoto, PhotoFate } from './examine-photo.js';
import type { GroupedPhotos } from './group-cameras.js';
import { type StoredTurn, turnMap, turnObservation } from './stored-turn.js';

/** A photo whose scatter is this many times the others' shows another board, or moved. */
const DISAGREEING = 4;

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
}

/**
 * Adjusts all photos at once. Photos that were stored turned are turned back; which way they had been
 * turned is told by the fit.
 *
 * Fails: NO_CONVERGENCE.
 */
export function adjustPhotos(
  usable: readonly Usable[],
  board: Board,
  { groups, cameraOf, crossed }: GroupedPhotos,
  gantryAxis: 'x' | 'y' | 'none',
  evidence: readonly NetworkEvidence[],
): Outcome<AdjustedPhotos> {
  const run = (turns: readonly StoredTurn[]) =>
    adjust({
      layout: {
        linesAtX: board.grid.linesAtX.map((line) => line.positionMm),
        linesAtY: board.grid.linesAtY.map((line) => line.positionMm),
        gantryAxis,
      },
      cameras: groups.map(({ camera }) => camera),
      placements: [{ rotationRad: 0, shiftMm: [0, 0] }],
      segments: networkSegments(board),
      evidence,
      ...turnedBack(usable, board, cameraOf, turns),
    });
  let turns: StoredTurn[] = crossed.map((one) => (one ? 90 : 0));
  let best = run(turns);
  for (const [i, turn] of turns.entries()) {
    if (turn === 0) continue;
    const flipped = turns.map((one, k) => (k === i ? 270 : one));
    const other = run(flipped);
    if (!other.ok || (best.ok && best.value.misfit <= other.value.misfit)) continue;
    best = other;
    turns = flipped;
  }
  return best.ok ? success({ adjustment: best.value, turns }) : best;
}

function networkSegments(board: Board): NetworkInput['segments'] {
  return board.segments.map((segment) => ({
    placement: 0,
    axis: segment.axis,
    line: segment.lineIndex,
    xMm: (segment.fromMm[0] + segment.toMm[0]) / 2,
    yMm: (segment.fromMm[1] + segment.toMm[1]) / 2,
    approach: segment.approach,
  }));
}

function turnedBack(
  usable: readonly Usable[],
  board: Board,
  cameraOf: readonly number[],
  turns: readonly StoredTurn[],
): Pick<NetworkInput, 'photos' | 'observations'> {
  const segmentAt = new Map(board.segments.map((segment, i) => [segment.id, i]));
  return {
    photos: usable.map(({ examined: { photo, marks } }, i) => ({
      camera: cameraOf[i],
      ...turnMap(photo, turns[i], marks.map),
    })),
    observations: usable.flatMap(({ examined: { photo, marks } }, i) =>
      marks.observations.map((stored) => {
        const seen = turnObservation(photo, turns[i], stored);
        return {
          photo: i,
          segment: segmentAt.get(seen.segmentId) ?? 0,
          uPx: seen.uPx,
          vPx: seen.vPx,
          normalU: seen.normalU,
          normalV: seen.normalV,
          sigmaPx: seen.sigmaPx,
        };
      }),
    ),
  };
}

export function describeAdjustment(
  adjustment: Adjustment,
): Omit<NonNullable<Measurement['adjustment']>, 'seconds'> {
  const { network, stochastic, linearised } = adjustment;
  const { observations } = network.input;
  const sigmas = observations.map(
    (seen, i) => stochastic.sigmaPx[i] * stochastic.photoFactor[seen.photo],
  );
  const meanSquare = sigmas.reduce((sum, s) => sum + s * s, 0) / sigmas.length;
  const outliers = observations.filter(
    (seen, i) => stochastic.keep[i] === 0 || stochastic.keepSegment[seen.segment] === 0,
  ).length;
  return {
    observations: linearised.residual.length,
    unknowns: network.table.size,
    redundancy: adjustment.redundancy,
    varianceFactor: adjustment.varianceFactor,
    sigmaPixel: Math.sqrt(meanSquare),
    sigmaMark: stochastic.sigmaMarkMm[0],
    outliers,
    iterations: adjustment.iterations,
  };
}

export function listDoubts(
  adjustment: Adjustment,
  usable: readonly Usable[],
  evidence: readonly EvidenceRecord[],
): Finding[] {
  const findings: Finding[] = [];
  const scatters = usable.map(({ examined }, photo) => ({
    name: basename(examined.photo.file),
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
