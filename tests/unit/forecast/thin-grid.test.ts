import { describe, expect, it } from 'vitest';
import { foretellDraw } from '../../../src/forecast/foretell-set.js';
import { type GridPart, thinGrid } from '../../../src/forecast/thin-grid.js';

/** A plain grid cut at its crossings, each line marked in two halves from either side. */
function grid(linesX: number, linesY: number): GridPart {
  const places = (count: number) => Array.from({ length: count }, (_, i) => 30 * i);
  const [linesAtX, linesAtY] = [places(linesX), places(linesY)];
  const along = (lines: readonly number[], i: number) => lines[i]! + 15;
  const segments = (['x', 'y'] as const).flatMap((axis) => {
    const [own, other] = axis === 'x' ? [linesAtX, linesAtY] : [linesAtY, linesAtX];
    return own.flatMap((place, line) =>
      other.slice(1).map((_, i) => {
        const low = i < (other.length - 1) / 2;
        return {
          placement: 0,
          axis,
          line,
          xMm: axis === 'x' ? place : along(other, i),
          yMm: axis === 'x' ? along(other, i) : place,
          approach: low === (line % 2 === 0) ? 1 : -1,
        };
      }),
    );
  });
  const sizes = {
    straightnessMm: 5e-3,
    progressionMm: 2e-3,
    yawRad: 3e-5,
    lineMm: 0.012,
    boardMm: 0.1,
  };
  const layout = { linesAtX, linesAtY, gantryAxis: 'y' as const };
  const placements = [{ rotationRad: 0, shiftMm: [0, 0] as const }];
  return { layout, placements, segments, sigmaPx: 0.02, sigmaMarkMm: 0.012, sizes };
}

const PHOTOS = [{ kind: 'overhead' as const, count: 4, tiltRad: 0.03 }];
const CAMERA = {
  widthPx: 4000,
  heightPx: 3000,
  focalLengthPx: 3000,
  focalLengthKnown: true,
  k1: 0,
  k2: 0,
};

function foretellOf(part: GridPart) {
  const network = { ...part, camera: CAMERA, fill: 0.86, evidence: [] };
  return foretellDraw(network, PHOTOS, 0)!.quantities;
}

describe('a thinned grid', () => {
  // Lines left out spoil the alternation of their halves, and those of both axes are not left out alike.
  it.each([
    ['of a third of its segments', grid(20, 14), 170, 0.4, 0.1],
    ['of every second line and fewer segments', grid(90, 62), 1500, 0.2, 0.2],
  ] as const)('%s foretells nearly the same uncertainties', (_, whole, most, share, tolerance) => {
    const thin = thinGrid(whole, most);
    expect(thin.segments.length).toBeLessThan(share * whole.segments.length);
    const [all, few] = [foretellOf(whole), foretellOf(thin)];
    for (const what of [
      'squareness',
      'scale.ratio',
      'lostMotion.x',
      'lostMotion.y',
      'racking',
      'straightness.x',
      'straightness.y',
    ] as const) {
      const [a, b] = [all[what], few[what]];
      expect(b.state, what).toBe(a.state);
      if (a.state === 'undetermined' || b.state === 'undetermined') throw new Error('is told');
      expect(Math.abs(b.U / a.U - 1), `${what} ${a.U} ${b.U}`).toBeLessThan(tolerance);
    }
  });

  it('keeps the outermost lines and at least one segment of every half', () => {
    const whole = grid(90, 62);
    const { layout, segments } = thinGrid(whole, 300);
    expect(layout.linesAtX[0]).toBe(0);
    expect(layout.linesAtX[layout.linesAtX.length - 1]).toBe(89 * 30);
    const halves = new Set(
      segments.map(({ axis, line, approach }) => `${axis} ${line} ${approach}`),
    );
    expect(halves.size).toBe(2 * (layout.linesAtX.length + layout.linesAtY.length));
    for (const { axis, line, xMm, yMm } of segments) {
      expect((axis === 'x' ? layout.linesAtX : layout.linesAtY)[line ?? -1]).toBe(
        axis === 'x' ? xMm : yMm,
      );
    }
  });

  it('is the grid itself where that is small', () => {
    const whole = grid(8, 6);
    expect(thinGrid(whole, 500)).toBe(whole);
  });
});
