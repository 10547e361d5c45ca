import { describe, expect, it } from 'vitest';
import { gridProgram } from '../../../samples/index.js';
import { describeGrid } from '../../../src/program/index.js';
import { type Outcome, unwrap } from '../../../src/quantity/index.js';
import { makeNodeFinder } from '../../../src/survey/find-nodes.js';
import { type ImagePoint, placeImagePoints } from '../../../src/survey/place-image-points.js';
import { gridOfPoints } from '../../../src/survey/points-grid.js';
import { parseImagePoints } from '../../../src/survey/read-image-points.js';

const HEADER = 'photo,x,y,u,v,sigma';
const TWO = ['a.jpg,0,0,10,200,0.2', 'a.jpg,100,0,110,200,0.2'];

function problemsOf(...lines: readonly string[]): string {
  const read = parseImagePoints(lines.join('\n'), 'p.csv');
  if (read.ok) throw new Error('was read');
  expect(read.failure.code).toBe('IMAGE_POINTS_INVALID');
  expect(read.failure.where).toBe('p.csv');
  return read.failure.message;
}

describe('a file of image points', () => {
  it('may have its columns in any order, quoted names, remarks, and a sense of approach', () => {
    const text = [
      '\ufeff# by other software',
      'sigma,"photo",dy,y,x,v,u,dx,placement',
      '0.2,"bed, left.jpg",-1,0,100,200.5,−0.25,+,1',
      '',
      '1e-1,b,,50,0,3,4,,',
    ].join('\r\n');
    expect(unwrap(parseImagePoints(text))).toEqual([
      {
        sourceLine: 3,
        photo: 'bed, left.jpg',
        ...{ xMm: 100, yMm: 0, uPx: -0.25, vPx: 200.5, sigmaPx: 0.2, approachX: 1, approachY: -1 },
      },
      { sourceLine: 5, photo: 'b', xMm: 0, yMm: 50, uPx: 4, vPx: 3, sigmaPx: 0.1 },
    ]);
  });

  it('may have decimal commas between semicolons or tabs, which leave names alone', () => {
    for (const separator of [';', '\t']) {
      const text = ['photo;x;y;u;v;sigma', 'a,1.jpg;0;0;10,5;20;0,2']
        .join('\n')
        .replaceAll(';', separator);
      expect(unwrap(parseImagePoints(text))).toMatchObject([
        { photo: 'a,1.jpg', uPx: 10.5, sigmaPx: 0.2 },
      ]);
    }
  });

  it('without a header, or with a wrong one, is refused', () => {
    expect(problemsOf(...TWO)).toContain('line 1: the header is missing');
    expect(problemsOf('photo,x,y,u,v', ...TWO)).toContain('sigma is missing');
    expect(problemsOf(`${HEADER},w`, ...TWO)).toContain('unknown column "w"');
    expect(problemsOf(`${HEADER},u`, ...TWO)).toContain('the column u stands there twice');
    expect(problemsOf('')).toContain('found an empty file');
    expect(problemsOf(HEADER)).toContain('found a header alone');
  });

  it('has every wrong cell named with line, column, what is expected and what was found', () => {
    const message = problemsOf(
      `${HEADER},dx,placement`,
      ',0,0,10,200,0.2,1,1',
      'a,zero,0,10,200,0.2,1,1',
      'a,0,,10,200,0.2,1,1',
      'a,0,0,1.2.3,inf,0.2,1,1',
      'a,0,0,10,200,0,1,1',
      'a,0,0,10,200,1e999,2,1',
      'a,0,0,10,200,0.2',
    );
    expect(message).toContain('line 2, column photo: expected the name of a photo, found nothing');
    expect(message).toContain('line 3, column x: expected a number in mm, found "zero"');
    expect(message).toContain('line 4, column y: expected a number in mm, found nothing');
    expect(message).toContain('line 5, column u: expected a number in px, found "1.2.3"');
    expect(message).toContain('line 5, column v: expected a number in px, found "inf"');
    expect(message).toContain(
      'line 6, column sigma: expected a standard uncertainty in px, above 0.00001, found "0"',
    );
    expect(message).toContain('line 7, column sigma');
    expect(message).toContain('line 7, column dx: expected 1, -1 or 0, found "2"');
    expect(message).toContain('line 8: expected 8 columns, found 6');
  });

  it('tells the first problems and counts the rest', () => {
    const bad = Array.from({ length: 30 }, (_, i) => `a,x,${i},10,200,0.2`);
    const message = problemsOf(HEADER, ...bad);
    expect(message).toContain('line 11, column x');
    expect(message).not.toContain('line 12, column x');
    expect(message).toContain('and 20 more');
  });

  it('with decimal commas between commas is told from one with too many columns', () => {
    expect(problemsOf(HEADER, 'a,0,0,10,5,200,0,2')).toContain('(decimal commas?');
  });

  it('of several positions of the board is refused for now', () => {
    const message = problemsOf(`${HEADER},placement`, 'a,0,0,10,200,0.2,2', 'a,0,0,9,9,0.2,0');
    expect(message).toContain(
      'line 2, column placement: expected 1: several positions of the board are not read yet, found "2"',
    );
    expect(message).toContain('line 3, column placement: expected a whole number from 1');
  });

  it('may see a point twice, but not list one row twice', () => {
    expect(
      unwrap(parseImagePoints([HEADER, TWO[0], 'a.jpg,0,0,10.1,200,0.2'].join('\n'))),
    ).toHaveLength(2);
    expect(problemsOf(HEADER, ...TWO, TWO[0]!)).toContain('line 4: the same point as on line 2');
  });
});

const CAMERA = { widthPx: 640, heightPx: 480 };

/** A photo from above: X to the right, Y up the picture; 1 px per mm, a little perspective. */
function seenFromAbove(
  photo: string,
  change: (point: ImagePoint, i: number) => Partial<ImagePoint> = () => ({}),
): ImagePoint[] {
  return [0, 100, 200, 300].flatMap((xMm, i) =>
    [0, 100, 200].map((yMm, j) => {
      const w = 1 + 1e-4 * xMm + 2e-4 * yMm;
      const point: ImagePoint = {
        ...{ sourceLine: 2 + 3 * i + j, photo, xMm, yMm, sigmaPx: 0.2 },
        ...{ uPx: (100 + xMm) / w, vPx: (400 - yMm) / w, approachX: 1, approachY: 0 },
      };
      return { ...point, ...change(point, 3 * i + j) };
    }),
  );
}

const LAYOUT = { linesAtX: [0, 100, 200, 300], linesAtY: [0, 100, 200] };

describe('image points in the adjustment', () => {
  function messageOf(points: readonly ImagePoint[]): string {
    const placed: Outcome<unknown> = placeImagePoints(points, LAYOUT, CAMERA);
    if (placed.ok) throw new Error('was placed');
    expect(placed.failure.code).toBe('IMAGE_POINTS_INVALID');
    return placed.failure.message;
  }

  it('are one mark with two coordinates in all photos, seen along both axes of the picture', () => {
    const { photoNames, photos, segments, observations } = unwrap(
      placeImagePoints([...seenFromAbove('b'), ...seenFromAbove('a')], LAYOUT, CAMERA),
    );
    expect(photoNames).toEqual(['b', 'a']);
    expect(segments).toHaveLength(24);
    expect(segments[0]).toEqual({
      ...{ placement: 0, axis: 'x', line: 0, xMm: 0, yMm: 0, approach: 1, pair: 1 },
    });
    expect(segments[23]).toEqual({
      ...{ placement: 0, axis: 'y', line: 2, xMm: 300, yMm: 200, approach: 0 },
    });
    expect(observations).toHaveLength(48);
    expect(observations.slice(24, 26)).toMatchObject([
      { photo: 1, segment: 0, sourceLine: 2, normalU: 1, normalV: 0 },
      { photo: 1, segment: 0, sourceLine: 2, normalU: 0, normalV: 1 },
    ]);
    // The photo's map is the one that the points were made with.
    const h = photos[0]!.homography;
    expect(h[0]! / h[8]!).toBeCloseTo(1, 6);
    expect(h[4]! / h[8]!).toBeCloseTo(-1, 6);
    expect(h[7]! / h[8]!).toBeCloseTo(2e-4, 9);
  });

  it('that were approached otherwise are other marks; between the lines they belong to none', () => {
    const own = seenFromAbove('a');
    const other = { ...own[0]!, approachX: -1 as const };
    const between = { ...own[0]!, xMm: 50, uPx: 150 };
    const { segments } = unwrap(placeImagePoints([...own, other, between], LAYOUT, CAMERA));
    expect(segments).toHaveLength(28);
    expect(segments[26]).toMatchObject({ axis: 'x', line: undefined });
    expect(segments[27]).toMatchObject({ axis: 'y', line: 0 });
  });

  it('lie inside the picture', () => {
    const at = (uPx: number) => seenFromAbove('a', (_, i) => (i === 4 ? { uPx } : {}));
    expect(messageOf(at(641))).toBe(
      'line 6: (641, 300) lies outside a picture of 640 × 480 pixels'.replace(
        '300',
        String(at(641)[4]!.vPx),
      ),
    );
    expect(messageOf(at(-1.5))).toContain('line 6');
  });

  it('are at least six in every photo, not on one line but for a single one', () => {
    const few = seenFromAbove('b').slice(0, 5);
    expect(messageOf([...seenFromAbove('a'), ...few])).toBe('photo b has 5 points');
    const inLine = seenFromAbove('a').flatMap((point, i) =>
      i < 7 ? [{ ...point, xMm: 10 * i, yMm: 0, uPx: 100 + 10 * i, vPx: 400 }] : [],
    );
    const inWords = 'points, not two of them beside one line';
    expect(messageOf(inLine)).toBe(`photo a has 7 ${inWords}`);
    const beside = seenFromAbove('a')[4];
    expect(messageOf([...inLine, beside!])).toBe(`photo a has 8 ${inWords}`);
    expect(messageOf([beside!, ...inLine])).toBe(`photo a has 8 ${inWords}`);
    expect(messageOf(Array.from({ length: 6 }, () => beside!))).toBe(`photo a has 6 ${inWords}`);
  });

  it('may not be mirrored, by a Y that counts downward or by swapped columns', () => {
    for (const mirrored of [
      seenFromAbove('a', ({ yMm }) => ({ yMm: -yMm })),
      seenFromAbove('a', ({ uPx, vPx }) => ({ uPx: vPx, vPx: uPx })),
    ]) {
      expect(messageOf(mirrored)).toBe('photo a shows the grid mirrored');
    }
  });

  it('may lie any way round in the picture', () => {
    const { widthPx, heightPx } = CAMERA;
    const turned = seenFromAbove('a', ({ uPx, vPx }) => ({
      uPx: widthPx - 1 - uPx,
      vPx: heightPx - 1 - vPx,
    }));
    expect(placeImagePoints(turned, LAYOUT, CAMERA).ok).toBe(true);
  });

  it('that are joined to the wrong commanded points are refused', () => {
    const own = seenFromAbove('a');
    const shuffled = own.map((point, i) => {
      const { uPx, vPx } = own[(5 * i + 3) % own.length]!;
      return { ...point, uPx, vPx };
    });
    expect(messageOf(shuffled)).toMatch(/^photo a shows no plane: its points lie \d+\.\d px/);
  });
});

describe('the grid of image points', () => {
  it('has a line where two different points share a coordinate, in however many photos', () => {
    const lone = { xMm: 37, yMm: 61 };
    const nodes = [...seenFromAbove('a'), ...seenFromAbove('b'), lone, lone];
    const { record } = gridOfPoints([{ name: 'p.csv', nodes }]);
    expect(record.linesAtX).toEqual(LAYOUT.linesAtX);
    expect(record.linesAtY).toEqual(LAYOUT.linesAtY);
    expect(record.program).toBe('p.csv');
  });
});

describe('how a node of a program was approached', () => {
  const { strokes } = gridProgram({ xMm: [0, 100, 200, 300], yMm: [0, 50, 100, 150] });
  const find = makeNodeFinder({
    name: 'grid',
    strokes,
    grid: unwrap(describeGrid(strokes)),
    segments: [],
  });

  it('is as the file says, else as the line was marked there, else unknown', () => {
    const through = strokes.find(({ fromMm, toMm }) => fromMm[0] === 100 && toMm[0] === 100)!;
    const yMm = (through.fromMm[1] + through.toMm[1]) / 2;
    expect(find.approach({ xMm: 100, yMm }, 'x')).toBe(through.approachX);
    expect(find.approach({ xMm: 100, yMm, approachX: 0 }, 'x')).toBe(0);
    expect(find.approach({ xMm: 130, yMm }, 'x')).toBe(0);
  });

  it('is not asked far outside the grid', () => {
    expect(find.isOutside({ xMm: 390, yMm: 0 })).toBe(false);
    expect(find.isOutside({ xMm: 410, yMm: 0 })).toBe(true);
  });
});
