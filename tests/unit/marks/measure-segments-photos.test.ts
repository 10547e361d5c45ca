import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { Matrix, solve } from 'ml-matrix';
import { describe, expect, it } from 'vitest';
import {
  gridProgram,
  projectCommanded,
  randomScene,
  renderPhoto,
  type Scene,
  signShopSet,
} from '../../../samples/index.js';
import type { Stroke } from '../../../shared/stroke.js';
import { readPhoto } from '../../../src/imaging/index.js';
import { findLattice, type MeasuredMarks, measureSegments } from '../../../src/marks/index.js';
import {
  type BoardSegment,
  cutStrokes,
  describeGrid,
  readProgram,
} from '../../../src/program/index.js';
import { type GreyImage, unwrap } from '../../../src/quantity/index.js';

interface Board {
  readonly strokes: readonly Stroke[];
  readonly segments: readonly BoardSegment[];
}

function readBoard(text: string): Board {
  const { strokes } = unwrap(
    readProgram(text, { name: 'grid', marking: 'auto', blockDelete: false }),
  );
  return { strokes, segments: cutStrokes(strokes, unwrap(describeGrid(strokes))).segments };
}

async function measure(grey: GreyImage, { strokes, segments }: Board): Promise<MeasuredMarks> {
  const { map } = unwrap(await findLattice(grey, strokes));
  return unwrap(measureSegments(grey, segments, map));
}

/** Seen minus true, along the normal; px. */
function errorsOf(scene: Scene, photoIndex: number, board: Board, measured: MeasuredMarks) {
  return measured.observations.map((o) => {
    const segment = board.segments[o.segmentId];
    const { approachX, approachY } = board.strokes[segment.strokeId];
    const [u, v] = projectCommanded(scene, photoIndex, o.xMm, o.yMm, approachX, approachY);
    const error = (o.uPx - u) * o.normalU + (o.vPx - v) * o.normalV;
    return { segment, xMm: o.xMm, yMm: o.yMm, error, sigma: o.sigmaPx };
  });
}

type Errors = ReturnType<typeof errorsOf>;

/** Constant, slopes and curvatures over the grid (-1 to 1 both ways) and the approaches' difference. */
function describeErrors(all: Errors, axis: 'x' | 'y') {
  const errors = all.filter((e) => e.segment.axis === axis);
  const row = (e: Errors[number]) => {
    const x = e.xMm / 360 - 1;
    const y = e.yMm / 240 - 1;
    return [1, x, y, x * x - 1 / 3, x * y, y * y - 1 / 3, e.segment.approach / 2];
  };
  const design = new Matrix(errors.map(row));
  const seen = Matrix.columnVector(errors.map((e) => e.error));
  const terms = solve(design, seen);
  const left = Matrix.sub(seen, design.mmul(terms)).to1DArray();
  const [constant, ...smooth] = terms.to1DArray();
  const approaches = smooth.pop() ?? Number.NaN;
  return {
    constant,
    smooth: Math.max(...smooth.map(Math.abs)),
    approaches,
    scatter: Math.sqrt(left.reduce((sum, r) => sum + r * r, 0) / left.length),
    worst: Math.max(...left.map(Math.abs)),
  };
}

describe('the sample photos', () => {
  const { scene, program } = signShopSet();
  const board = readBoard(program.text);
  const samplePhoto = async (number: number) => {
    const path = fileURLToPath(
      new URL(`../../../samples/sign-shop/photo-${number}.jpg`, import.meta.url),
    );
    return unwrap(await readPhoto(path)).grey;
  };

  it('show the marks where they are, but for the wander of their edges', async () => {
    const measured = await measure(await samplePhoto(1), board);
    expect(measured.observations).toHaveLength(board.segments.length);
    const errors = errorsOf(scene, 0, board, measured);
    for (const axis of ['x', 'y'] as const) {
      const found = describeErrors(errors, axis);
      // Each edge wanders by 0.03 mm, the middle by 0.02 mm or 0.09 px, half of it averaged away.
      expect(found.scatter).toBeLessThan(0.07);
      // Three standard errors of what that leaves in 450 segments.
      expect(found.smooth).toBeLessThan(0.025);
      expect(Math.abs(found.approaches)).toBeLessThan(0.015);
      expect(Math.abs(found.constant)).toBeLessThan(0.02);
    }
  });

  it('with a clamp on the corner: what it hides is refused, nothing is measured wrongly', async () => {
    const measured = await measure(await samplePhoto(7), board);
    const { covered, unlike } = measured.rejected;
    expect(covered + unlike).toBeGreaterThan(2);
    expect(measured.observations.length).toBeGreaterThan(board.segments.length - 15);
    const errors = errorsOf(scene, 6, board, measured);
    // Five scatters of the marks themselves.
    expect(Math.max(...errors.map((e) => Math.abs(e.error)))).toBeLessThan(0.35);
  });
});

describe('marks with straight edges', () => {
  const program = gridProgram();
  const board = readBoard(program.text);
  const render = async (markKind: 'burnt' | 'chalk', seed: number) => {
    const { scene } = randomScene(seed, program.strokes, {
      widthPx: 2000,
      heightPx: 1500,
      markKind,
      marks: { edgeWanderMm: 0 },
      shadows: true,
      objects: false,
    });
    const folder = await mkdtemp(join(tmpdir(), 'marks-'));
    const path = join(folder, 'photo.jpg');
    await writeFile(path, (await renderPhoto(scene, 0)).jpeg);
    const photo = unwrap(await readPhoto(path));
    await rm(folder, { recursive: true });
    return { scene, grey: photo.grey };
  };
  for (const [kind, seed] of [
    ['burnt', 41],
    ['chalk', 42],
  ] as const) {
    it(`${kind}: no smooth error, no difference between the approaches`, async () => {
      const { scene, grey } = await render(kind, seed);
      const measured = await measure(grey, board);
      const errors = errorsOf(scene, 0, board, measured);
      for (const axis of ['x', 'y'] as const) {
        const found = describeErrors(errors, axis);
        // Noise leaves 0.01 px a segment: 0.001 in a slope over 450, three times that in a curvature.
        expect(found.scatter).toBeLessThan(0.02);
        expect(found.smooth).toBeLessThan(0.008);
        expect(Math.abs(found.approaches)).toBeLessThan(0.005);
        expect(Math.abs(found.constant)).toBeLessThan(0.02);
      }
    });
  }
});
