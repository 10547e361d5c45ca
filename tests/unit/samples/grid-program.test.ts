import { describe, expect, it } from 'vitest';
import { gridLines, gridProgram, unevenPositions } from '../../../samples/index.js';
import { describeGrid, lookAlikeRotations, readProgram } from '../../../src/program/index.js';
import { unwrap } from '../../../src/quantity/index.js';

const UNEVEN = {
  xMm: unevenPositions(7, 25),
  yMm: unevenPositions(5, 31),
};

function strokesRead(text: string) {
  const options = { name: 'grid.ngc', marking: 'auto', blockDelete: false } as const;
  return unwrap(readProgram(text, options)).strokes;
}

describe('the program of a grid', () => {
  it.each([
    ['the default grid', {}],
    ['uneven intervals', UNEVEN],
  ])('is read into the very strokes that it means: %s', (_, options) => {
    const { text, strokes } = gridProgram(options);
    // The laser's own default feed and power, word by word in the text.
    const burnt = { feedMmPerMin: 1500, power: 600 };
    expect(strokesRead(text)).toEqual(strokes.map((stroke) => ({ ...stroke, ...burnt })));
  });

  it('marks half of each line after a + approach and half after a - approach, in turn', () => {
    const { strokes } = gridProgram(UNEVEN);
    const lower = UNEVEN.xMm.map((x) => {
      const parts = strokes.filter(
        ({ fromMm, toMm }) => fromMm[0] === x && toMm[0] === x && toMm[1] - fromMm[1] > 30,
      );
      expect(parts.map((part) => part.approachX).sort()).toEqual([-1, 1]);
      return parts.find((part) => part.fromMm[1] < 0)?.approachX;
    });
    expect(lower).toEqual([1, -1, 1, -1, 1, -1, 1]);
  });

  it('has lines at the commanded positions, its origin mark not among them', () => {
    expect(gridLines(gridProgram(UNEVEN).strokes)).toEqual(UNEVEN);
  });

  it('looks like itself after no turn', () => {
    const { text } = gridProgram({ xMm: [0, 30, 60, 90], yMm: [0, 30, 60, 90] });
    const read = strokesRead(text);
    expect(lookAlikeRotations(unwrap(describeGrid(read)), read)).toEqual([]);
  });

  it('names the interval that hides periodic errors only where all are equal', () => {
    expect(gridProgram().text).toContain('all intervals are 30 mm');
    expect(gridProgram(UNEVEN).text).not.toContain('all intervals');
  });
});
