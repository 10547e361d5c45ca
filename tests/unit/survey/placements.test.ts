import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { gridProgram } from '../../../samples/index.js';
import { compensate } from '../../../src/compensation/index.js';
import { unwrap } from '../../../src/quantity/index.js';
import { networkLayout, networkSegments } from '../../../src/survey/adjust-photos.js';
import { type Board, cutTogether, differsFrom, isTurnedEnough } from '../../../src/survey/board.js';
import { readPlacement, readPlacements } from '../../../src/survey/read-placement.js';
import type { MarkedBy } from '../../../src/survey/survey-request.js';
import { makeMeasurement } from '../report/make-measurement.js';

let folder = '';
let programs: MarkedBy[] = [];
let board: Board;

/** A fifth of the 6 mm by which the lines go on behind their last crossing; elsewhere it is 1.5 mm. */
const CLEARANCE_MM = 1.2;
const ROUNDING_MM = 1e-9;

/** A quarter turn to the left about the middle, (100, 100): (x, y) → (200 - y, x). */
const QUARTER = {
  rotationRad: Math.PI / 2,
  shiftMm: [200, 0],
  firstFromSecond: [0, -1, 200, 1, 0, 0],
  unlike: 0,
} as const;

const read = (markedBy: MarkedBy[]) =>
  readPlacements({ markedBy, marking: 'auto', blockDelete: false });

beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'gantrue-placements-'));
  const grids = [
    [0, 50, 100, 150, 200],
    [25, 75, 125, 175],
  ].map((lines) => gridProgram({ xMm: lines, yMm: lines }).text);
  programs = await Promise.all(
    grids.map(async (text, i): Promise<MarkedBy> => {
      const file = join(folder, `${['first', 'second'][i]}.ngc`);
      await writeFile(file, text);
      return { kind: 'program', file };
    }),
  );
  board = unwrap(await read(programs)).board;
});
afterAll(() => rm(folder, { recursive: true, force: true }));

describe('the programs of a board', () => {
  it('are read as placements in the order given', async () => {
    const { records } = unwrap(await read(programs));
    expect(records.map(({ program }) => program)).toEqual(['first.ngc', 'second.ngc']);
    expect(records.map(({ linesAtX }) => linesAtX.length)).toEqual([5, 4]);
  });

  it('are not three', async () => {
    const three = await read([...programs, programs[0]]);
    expect(three.ok ? '' : three.failure.code).toBe('WRONG_CALL');
    expect(three.ok ? '' : three.failure.message).toContain('3 programs');
  });

  it('are not what a compensated program marked: it is told why there is no grid', async () => {
    const { kind, file } = programs[0] as Extract<MarkedBy, { kind: 'program' }>;
    const bent = unwrap(
      compensate({
        ...{
          name: 'first.ngc',
          text: await readFile(file, 'utf8'),
          measurement: makeMeasurement(),
        },
        ...{ measurementSha256: '0'.repeat(64), wanted: new Set(['squareness'] as const) },
        ...{ toleranceMm: 0.005, zeroMm: [0, 0] },
      }),
    );
    const path = join(folder, 'bent.ngc');
    await writeFile(path, bent.text);
    const failed = await read([{ kind, file: path }]);
    expect(failed.ok ? '' : failed.failure.code).toBe('PROGRAM_NO_GRID');
    expect(failed.ok ? '' : failed.failure.message).toMatch(/^the program was compensated/);
    expect(failed.ok ? '' : failed.failure.hint).toMatch(/measure with that one/);
  });

  it('are one where no photo tells their marks apart', async () => {
    const two = await readPlacement({ markedBy: programs, marking: 'auto', blockDelete: false });
    expect(two.ok ? '' : two.failure.code).toBe('WRONG_CALL');
  });
});

describe('a board that two programs marked', () => {
  it('is adjusted with the lines of both, each segment on its own', () => {
    const together = cutTogether({ ...board, second: board.second! }, QUARTER);
    const layout = networkLayout(together, 'y', {});
    expect(layout.linesAtX).toEqual([0, 25, 50, 75, 100, 125, 150, 175, 200]);
    const segments = networkSegments(together);
    for (const { axis, line = -1, xMm, yMm } of segments) {
      const lines = axis === 'x' ? layout.linesAtX : layout.linesAtY;
      expect(lines[line]).toBe(axis === 'x' ? xMm : yMm);
    }
    expect(new Set(segments.map(({ placement }) => placement))).toEqual(new Set([0, 1]));
  });

  it('is cut where the lines of the other program cross: no segment comes nearer than the clearance', () => {
    const { segments, second } = cutTogether({ ...board, second: board.second! }, QUARTER);
    // After the quarter turn the lines at 25, 75, … lie at 175, 125, …: the same places. They end 6 mm beyond 25
    // and 175: the outermost lines of the first program are not crossed by them.
    for (const { axis, fromMm, toMm } of [...segments, ...second.segments]) {
      const [own, from, to] =
        axis === 'x' ? [fromMm[0], fromMm[1], toMm[1]] : [fromMm[1], fromMm[0], toMm[0]];
      if (own < 20 || own > 180) continue;
      for (const at of [25, 50, 75, 100, 125, 150, 175]) {
        expect(Math.max(from - at, at - to)).toBeGreaterThan(CLEARANCE_MM - ROUNDING_MM);
      }
    }
    expect(segments.length).toBeGreaterThan(60);
  });

  it('counts as turned at a quarter turn, not at none and not at half a turn', () => {
    const at = (rotationRad: number) => isTurnedEnough({ between: { ...QUARTER, rotationRad } });
    expect([-Math.PI / 2, 0.8, 0.001, Math.PI].map(at)).toEqual([true, true, false, false]);
    expect(isTurnedEnough({})).toBe(false);
  });

  it('is another board where the second marks lie 5 mm elsewhere', () => {
    const known = { ...board, second: board.second!, between: QUARTER };
    expect(differsFrom(known, QUARTER)).toBeUndefined();
    const moved = { ...QUARTER, firstFromSecond: [0, -1, 205, 1, 0, 0] } as const;
    expect(differsFrom(known, moved)?.failure.code).toBe('GRID_AMBIGUOUS');
  });
});
