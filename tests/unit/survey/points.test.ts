import { describe, expect, it } from 'vitest';
import { gridProgram } from '../../../samples/index.js';
import { describeGrid } from '../../../src/program/index.js';
import { type Outcome, unwrap } from '../../../src/quantity/index.js';
import { placePoints } from '../../../src/survey/place-points.js';
import { gridOfPoints } from '../../../src/survey/points-grid.js';
import { parsePoints } from '../../../src/survey/read-points.js';

const FOUR = ['0,0,10,20,0.02', '100,0,110,20,0.02', '0,50,10,70,0.02', '100,50,110,70,0.02'];

function file(rows: readonly string[], header = 'x,y,X,Y,u') {
  return { name: 'p.csv', sha256: '', nodes: unwrap(parsePoints([header, ...rows].join('\n'))) };
}

function problemsOf(text: string): string {
  const read = parsePoints(text, 'p.csv');
  if (read.ok) throw new Error('was read');
  expect(read.failure.code).toBe('POINTS_INVALID');
  return read.failure.message;
}

describe('a points file', () => {
  it('may have its columns in any order, a byte-order mark, remarks and empty lines', () => {
    const text =
      '\ufeff# by probe\r\n"u",Y,X,y,x\r\n\r\n0.02,20,10,0,0\r\n0.02,20,110,0,100\r\n0.02,70,10,50,0\r\n0.02,70,110,50,100\r\n';
    const nodes = unwrap(parsePoints(text));
    expect(nodes).toHaveLength(4);
    expect(nodes[1]).toEqual({
      sourceLine: 5,
      xMm: 100,
      yMm: 0,
      measuredMm: [110, 20],
      uMm: 0.02,
      placement: 1,
    });
  });

  it('may have decimal commas between semicolons, and tabs', () => {
    const rows = FOUR.map((row) => row.replaceAll(',', ';').replaceAll('.', ','));
    for (const separator of [';', '\t']) {
      const text = ['x;y;X;Y;u', ...rows].join('\n').replaceAll(';', separator);
      expect(unwrap(parsePoints(text))[0]!.uMm).toBe(0.02);
    }
  });

  it('says from which side a node was approached where it knows', () => {
    const { nodes } = file(
      FOUR.map((row, i) => `${row},${['1', '-1', '+', ''][i]},${['0', '−1', '-', '+1'][i]},2`),
      'x,y,X,Y,u,dx,dy,placement',
    );
    expect(nodes.map(({ approachX }) => approachX)).toEqual([1, -1, 1, undefined]);
    expect(nodes.map(({ approachY }) => approachY)).toEqual([0, -1, -1, 1]);
    expect(nodes.map(({ placement }) => placement)).toEqual([2, 2, 2, 2]);
  });

  it('without a header is refused', () => {
    expect(problemsOf(FOUR.join('\n'))).toContain('line 1: the header is missing');
  });

  it('that does not tell commanded from measured is refused', () => {
    const message = problemsOf(['x,y,x,y,u', ...FOUR].join('\n'));
    expect(message).toContain('small x, y commanded, capital X, Y measured');
  });

  it('has every wrong cell named with line, column, what is expected and what was found', () => {
    const rows = ['0,0,ten,20,0.02', '100,0,110,20,0', ',50,10,70,0.02', '100,50,110,70'];
    const message = problemsOf(['x,y,X,Y,u', ...rows].join('\n'));
    expect(message).toContain('line 2, column X: expected a number in mm, found "ten"');
    expect(message).toContain('line 3, column u: expected a standard uncertainty in mm, above 0');
    expect(message).toContain('line 4, column x: expected a number in mm, found nothing');
    expect(message).toContain('line 5: expected 5 columns, found 4');
  });

  it('with decimal commas between commas is told from one with too many columns', () => {
    const message = problemsOf(['x,y,X,Y,u', '0,0,10,5,20,1,0,02', ...FOUR].join('\n'));
    expect(message).toContain('line 2: expected 5 columns, found 8 (decimal commas?');
  });

  it('of fewer nodes than fix a plane is refused', () => {
    expect(problemsOf(['x,y,X,Y,u', ...FOUR.slice(0, 3)].join('\n'))).toContain('at least 4 nodes');
    const inLine = ['0,0,0,0,1', '1,0,1,0,1', '2,0,2,0,1', '3,0,3,0,1'];
    expect(problemsOf(['x,y,X,Y,u', ...inLine].join('\n'))).toContain('found 4 at 4 and 1');
  });
});

describe('nodes by themselves', () => {
  it('form lines where two or more share a coordinate', () => {
    const { record } = gridOfPoints([file([...FOUR, '30,20,40,40,0.02'])]);
    expect(record.linesAtX).toEqual([0, 100]);
    expect(record.linesAtY).toEqual([0, 50]);
  });
});

describe('the frame in which nodes were measured', () => {
  const STILL = { factor: 1, u: 0 };
  function placed(nodes: ReturnType<typeof file>): Outcome<ReturnType<typeof unwrapped>> {
    const { board } = gridOfPoints([nodes]);
    return placePoints([nodes], board, board, STILL);
  }
  const unwrapped = (nodes: ReturnType<typeof file>) => {
    const { board } = gridOfPoints([nodes]);
    return unwrap(placePoints([nodes], board, board, STILL));
  };
  const measured = (map: (x: number, y: number) => readonly [number, number]) =>
    file(
      [0, 100, 200].flatMap((x) =>
        [0, 50, 100].map((y) => {
          const [X, Y] = map(x, y);
          return `${x},${y},${X},${Y},0.01`;
        }),
      ),
    );

  it('may be turned and shifted', () => {
    // A quarter turn to the left about the origin, then (10, -5).
    const { placements, observations } = unwrapped(measured((x, y) => [10 - y, x - 5]));
    expect(placements).toHaveLength(1);
    expect(placements[0]!.rotationRad).toBeCloseTo(Math.PI / 2, 12);
    expect(placements[0]!.shiftMm[0]).toBeCloseTo(10, 9);
    expect(placements[0]!.shiftMm[1]).toBeCloseTo(-5, 9);
    // X of the machine then runs along Y of the frame.
    expect(observations[0]!.normalU).toBeCloseTo(0, 12);
    expect(observations[0]!.normalV).toBeCloseTo(1, 12);
  });

  it('may not be mirrored', () => {
    const outcome = placed(measured((x, y) => [x, -y]));
    expect(outcome).toMatchObject({ ok: false, failure: { code: 'POINTS_INVALID' } });
    if (!outcome.ok) expect(outcome.failure.message).toContain('mirrored');
  });

  it('may not be in inches', () => {
    const outcome = placed(measured((x, y) => [x / 25.4, y / 25.4]));
    expect(outcome).toMatchObject({ ok: false, failure: { code: 'UNITS_SUSPECT' } });
  });

  it('must follow the commanded one', () => {
    const outcome = placed(measured((x, y) => [x + 0.5 * y, y]));
    expect(outcome).toMatchObject({ ok: false, failure: { code: 'POINTS_INVALID' } });
  });

  it('lets a node that is measured twice be one mark', () => {
    const { segments, observations } = unwrapped(file([...FOUR, FOUR[0]!]));
    expect(segments).toHaveLength(8);
    expect(observations).toHaveLength(10);
  });
});

describe('nodes of a program', () => {
  const { strokes } = gridProgram({ xMm: [0, 100, 200, 300], yMm: [0, 50, 100, 150] });
  const board = { name: 'grid', strokes, grid: unwrap(describeGrid(strokes)), segments: [] };
  const at = (x: number, y: number) => `${x},${y},${x},${y},0.01`;

  it('are approached as it marked the line there', () => {
    const nodes = file([at(0, 0), at(0, 150), at(100, 0), at(100, 150)]);
    const own = gridOfPoints([nodes]).board;
    const { segments } = unwrap(placePoints([nodes], own, board, { factor: 1, u: 0 }));
    const approaches = segments.filter(({ axis }) => axis === 'x').map(({ approach }) => approach);
    // Each line is marked in two halves from opposite sides, in swapped order from line to line.
    expect(approaches[0]).not.toBe(0);
    expect(approaches[1]).toBe(-approaches[0]!);
    expect(approaches[2]).toBe(-approaches[0]!);
    expect(approaches[3]).toBe(approaches[0]);
  });

  it('may not lie outside its grid', () => {
    const nodes = file([at(0, 0), at(0, 150), at(300, 0), at(3000, 150)]);
    const outcome = placePoints([nodes], board, board, { factor: 1, u: 0 });
    expect(outcome).toMatchObject({ ok: false, failure: { code: 'POINTS_INVALID' } });
    if (!outcome.ok) expect(outcome.failure.message).toContain('line 5: (3000, 150)');
  });
});
