/** Photos that software turned by a quarter turn before they arrived. */
import { describe, expect, it } from 'vitest';
import { gridProgram, seeRule } from '../../samples/index.js';
import type { MeasuredMarks } from '../../src/marks/index.js';
import { estimateMachine, type RuleInPicture } from '../../src/network/index.js';
import { cutStrokes, describeGrid } from '../../src/program/index.js';
import { success, unwrap } from '../../src/quantity/index.js';
import { adjustPhotos, networkLayout, type Usable } from '../../src/survey/adjust-photos.js';
import { groupCameras } from '../../src/survey/group-cameras.js';
import { NO_POINTS } from '../../src/survey/place-points.js';
import { type StoredTurn, sensorSize, storedFromSensor } from '../../src/survey/stored-turn.js';
import { simulateNetwork } from './simulated-network.js';

/** Every second photo as stored by software that holds people's pictures upright. */
const STORED: StoredTurn[] = [0, 90, 0, 270, 0, 90, 0, 270];

describe('eight photos, every second one stored turned', () => {
  it('are turned back the right way with the rules in them, and tell as much as untouched ones', () => {
    const { strokes } = gridProgram({});
    const { input, truth, scene } = simulateNetwork({
      seed: 12,
      sigmaPx: 0.05,
      sigmaMarkMm: 0.02,
      focalKnown: true,
      taped: false,
    });
    const grid = unwrap(describeGrid(strokes));
    const board = { name: 'grid', strokes, grid, segments: cutStrokes(strokes, grid).segments };
    const [{ widthPx, heightPx }] = input.cameras;
    const usable = input.photos.map((photo, index): Usable => {
      const turn = STORED[index];
      const stored = sensorSize({ widthPx, heightPx }, turn);
      const put = (u: number, v: number) => storedFromSensor(stored, turn, u, v);
      const observations = input.observations
        .filter((o) => o.photo === index)
        .map((o) => {
          const [uPx, vPx] = put(o.uPx, o.vPx);
          const [u1, v1] = put(o.uPx + o.normalU, o.vPx + o.normalV);
          const segment = input.segments[o.segment];
          return {
            segmentId: o.segment,
            xMm: segment.xMm,
            yMm: segment.yMm,
            uPx,
            vPx,
            normalU: u1 - uPx,
            normalV: v1 - vPx,
            sigmaPx: o.sigmaPx,
          };
        });
      // The homography of the stored picture: rows swap and mirror like its pixels.
      const h = Array.from(photo.homography);
      const [top, middle, bottom] = [h.slice(0, 3), h.slice(3, 6), h.slice(6, 9)];
      const mirror = (last: number, row: number[]) => bottom.map((w, k) => last * w - row[k]);
      const rows =
        turn === 90
          ? [mirror(stored.widthPx - 1, middle), top]
          : turn === 270
            ? [middle, mirror(stored.heightPx - 1, top)]
            : [top, middle];
      const marks: MeasuredMarks = {
        observations,
        map: {
          homography: Float64Array.from([...rows[0], ...rows[1], ...bottom]),
          centrePx: [(stored.widthPx - 1) / 2, (stored.heightPx - 1) / 2],
          radiusPx: photo.radiusPx,
          k1: 0,
          k2: 0,
        },
        families: [],
        predicted: observations.length,
        rejected: { covered: 0, unlike: 0, outlying: 0 },
        scatterPx: 0.05,
      };
      const examined = {
        photo: {
          file: `p${index}.jpg`,
          name: `p${index}.jpg`,
          sha256: String(index),
          format: 'jpeg' as const,
          ...stored,
          exif: { orientation: 1 as const, focalLengthMm: 5.4, focalLength35mm: 26 },
        },
        readings: [{ turnDeg: 0 as const, marks }],
        marks,
        certain: true,
      };
      return { fate: { path: `p${index}.jpg`, outcome: success(examined) }, index, examined };
    });
    const rules = [1, 3].map((photo): RuleInPicture => {
      const angleRad = photo === 1 ? 0 : Math.PI / 2;
      const laid = { fromMm: [210, 90] as const, angleRad, lengthMm: 300, heightMm: 1 };
      const stored = sensorSize({ widthPx, heightPx }, STORED[photo]);
      const [fromPx, toPx] = seeRule(scene, photo, laid).map(([u, v]) =>
        storedFromSensor(stored, STORED[photo], u, v),
      );
      return {
        kind: 'rule',
        what: 'rule',
        photo,
        fromPx,
        toPx,
        sigmaPx: 0.1,
        lengthMm: 300,
        uMm: 0.01,
        heightMm: 1,
        heightUMm: 0.05,
        ruleScaleU: 2e-5,
      };
    });
    const grouped = groupCameras(usable.map(({ examined }) => examined.photo));
    expect(grouped.groups).toHaveLength(1);
    const { adjustment, turns } = unwrap(
      adjustPhotos(usable, board, grouped, networkLayout(board, 'y', {}), {
        evidence: [],
        rules,
        points: NO_POINTS,
      }),
    );
    expect(turns).toEqual(STORED);
    const { squareness, scale } = estimateMachine(adjustment);
    for (const axis of ['x', 'y'] as const) {
      const quantity = scale[axis];
      if (quantity.state === 'undetermined') throw new Error(quantity.reason);
      expect(Math.abs(quantity.value - truth.scale[axis])).toBeLessThan(quantity.U);
      expect(quantity.U).toBeLessThan(3e-4);
    }
    expect(squareness.state).toBe('measured');
    if (squareness.state === 'undetermined') throw new Error('unreachable');
    expect(Math.abs(squareness.value - truth.squareness)).toBeLessThan(6e-5);
  });
});
