import { describe, expect, it } from 'vitest';
import {
  gridProgram,
  landedPosition,
  randomScene,
  sceneTruth,
  turnBoard,
} from '../../../samples/index.js';
import { makeMarks } from '../../../samples/mark-profile.js';
import { createRandomSource } from '../../../samples/random-source.js';

const FIRST = gridProgram({ xMm: [0, 50, 100, 150, 200], yMm: [0, 50, 100, 150, 200] }).strokes;
const SECOND = gridProgram({ xMm: [25, 75, 125, 175], yMm: [25, 75, 125, 175] }).strokes;

describe('a simulated board that was turned between two programs', () => {
  it('turned to the left carries the second marks turned to the right, their middle where it was brought', () => {
    // Left quarter turn: the board's own frame sees the machine turned by -90°; both middles at (100, 100).
    const { rotationRad, shiftMm } = turnBoard(FIRST, SECOND, {
      quarters: 1,
      offDeg: 0,
      offMm: [3, -2],
    });
    expect(rotationRad).toBeCloseTo(-Math.PI / 2, 12);
    // (x, y) → (y, -x): (100, 100) → (100, -100); to reach (103, 98) the shift is (3, 198).
    expect(shiftMm[0]).toBeCloseTo(3, 9);
    expect(shiftMm[1]).toBeCloseTo(198, 9);
  });

  it('bears the marks of both where machine and placement put them', () => {
    const second = turnBoard(FIRST, SECOND, { quarters: -1, offDeg: 2, offMm: [1, 1] });
    const { scene } = randomScene(5, FIRST, { second });
    const style = { ...scene.marks, edgeWanderMm: 0 };
    const { marks } = makeMarks(
      FIRST,
      scene.machine,
      style,
      [-60, -60, 260, 260],
      createRandomSource(1),
      second,
    );
    expect(marks).toHaveLength(FIRST.length + SECOND.length);
    const [cos, sin] = [Math.cos(second.rotationRad), Math.sin(second.rotationRad)];
    for (const [i, { fromMm, approachX, approachY }] of SECOND.entries()) {
      const [x, y] = landedPosition(scene.machine, ...fromMm, approachX, approachY);
      const { startMm } = marks[FIRST.length + i]!;
      expect(startMm[0]).toBeCloseTo(cos * x - sin * y + second.shiftMm[0], 9);
      expect(startMm[1]).toBeCloseTo(sin * x + cos * y + second.shiftMm[1], 9);
    }
  });

  it('is told with both placements; a board marked once with none', () => {
    const second = turnBoard(FIRST, SECOND, { quarters: 1, offDeg: -1, offMm: [0, 0] });
    const truth = sceneTruth(randomScene(5, FIRST, { second }).scene);
    expect(truth.placements).toEqual([
      expect.objectContaining({ rotation: 0, shift: { x: 0, y: 0 } }),
      expect.objectContaining({
        rotation: second.rotationRad,
        shift: { x: second.shiftMm[0], y: second.shiftMm[1] },
        grid: { xMm: [25, 75, 125, 175], yMm: [25, 75, 125, 175] },
      }),
    ]);
    expect(sceneTruth(randomScene(5, FIRST).scene)).not.toHaveProperty('placements');
  });

  it('lies under a machine whose deviations are drawn over the lines of both programs', () => {
    const second = turnBoard(FIRST, SECOND, { quarters: 1, offDeg: 0, offMm: [0, 0] });
    const { scene } = randomScene(5, FIRST, { second });
    expect(scene.machine.positionX.atMm).toEqual([0, 25, 50, 75, 100, 125, 150, 175, 200]);
  });
});
