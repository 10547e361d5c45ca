import { describe, expect, it } from 'vitest';
import {
  isCameraFree,
  isTurned,
  isTurnedByHalf,
  turnOfPlacements,
} from '../../../src/network/placement-turns.js';

const DEGREE = Math.PI / 180;

/** One photo that shows one mark of each placement; the last `onBoard` were measured on the board instead. */
function seen(turnsDeg: readonly number[], onBoard = 0) {
  const photos = [
    { camera: 0, homography: new Float64Array(9), centrePx: [0, 0], radiusPx: 1, k1: 0, k2: 0 },
  ] as const;
  return {
    photos,
    placements: turnsDeg.map((turn) => ({ rotationRad: turn * DEGREE, shiftMm: [0, 0] as const })),
    segments: turnsDeg.map((_, placement) => ({
      placement,
      axis: 'x' as const,
      line: 0,
      xMm: 0,
      yMm: 0,
      approach: 1,
    })),
    observations: turnsDeg.map((_, segment) => ({
      photo: segment < turnsDeg.length - onBoard ? 0 : 1,
      segment,
      uPx: 0,
      vPx: 0,
      normalU: 1,
      normalV: 0,
      sigmaPx: 1,
    })),
  };
}

describe('turns between placements', () => {
  it('count by their sine, the largest of all pairs', () => {
    expect(turnOfPlacements(seen([0, 90]))).toBeCloseTo(1, 12);
    expect(turnOfPlacements(seen([0, 30]))).toBeCloseTo(0.5, 12);
    expect(turnOfPlacements(seen([0, 180, 150]))).toBeCloseTo(0.5, 12);
    expect(turnOfPlacements(seen([0]))).toBe(0);
  });

  it('free the camera, but not where a board was only laid back or turned by half', () => {
    expect(isCameraFree(seen([0, 88]))).toBe(true);
    expect(isCameraFree(seen([0, 1.5]))).toBe(false);
    expect(isCameraFree(seen([0, 181]))).toBe(false);
    expect(isTurnedByHalf(seen([0, 181]))).toBe(true);
    expect(isTurnedByHalf(seen([0, 1.5]))).toBe(false);
    expect(isTurnedByHalf(seen([0, 181, 90]))).toBe(false);
  });

  it('do not count where marks were measured in an instrument’s own frame', () => {
    expect(isTurned(seen([0, 90], 1))).toBe(false);
    expect(isTurned(seen([0, 90, 45], 1))).toBe(true);
  });

  it('give way to what is asked for', () => {
    expect(isCameraFree({ ...seen([0, 90]), beliefs: { camera: 'believed' } })).toBe(false);
    expect(isCameraFree({ ...seen([0]), beliefs: { camera: 'free' } })).toBe(true);
  });
});
