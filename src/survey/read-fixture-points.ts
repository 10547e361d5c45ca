/** A CSV file of features whose places were measured otherwise: by the machine's own probe, or by calipers. */

import {
  acrossEdge,
  type FixtureFrame,
  type Layout,
  type MeasuredPlace,
} from '../fixture/index.js';
import { fitGeneralised } from '../numerics/index.js';
import { failed, type Outcome, success } from '../quantity/index.js';
import { readTable, type TableForm } from './read-table.js';

interface PointRow {
  readonly line: number;
  readonly name: string;
  readonly frame: FixtureFrame;
  readonly atMm: readonly [x: number, y: number];
  readonly uMm: number;
}

export interface FixturePoints {
  readonly file: string;
  /** Of the file, hexadecimal. */
  readonly sha256: string;
  /** In which millimetres they were measured. */
  readonly frame: FixtureFrame;
  readonly places: readonly MeasuredPlace[];
}

type Column = 'name' | 'x' | 'y' | 'X' | 'Y' | 'u';

const FORM: TableForm<Column, PointRow> = {
  code: 'POINTS_INVALID',
  what: 'points file',
  needed: ['name', 'u'],
  optional: ['x', 'y', 'X', 'Y'],
  explanation: 'small x, y in machine coordinates, or capital X, Y in true millimetres',
  hint: 'write a header name,x,y,u (machine coordinates) or name,X,Y,u (true millimetres) and one feature per line; u is the standard uncertainty, all in mm',
  readRow(row) {
    const isTrue = row.text('X') !== '' || row.text('Y') !== '';
    const isMachine = row.text('x') !== '' || row.text('y') !== '';
    if (isTrue && isMachine) row.complain('x', 'nothing, where X and Y are given');
    const [x, y] = isTrue ? (['X', 'Y'] as const) : (['x', 'y'] as const);
    return {
      line: row.line,
      name: row.text('name'),
      frame: isTrue ? 'board' : 'machine',
      atMm: [row.number(x, 'a number in mm'), row.number(y, 'a number in mm')],
      uMm: row.number('u', 'a standard uncertainty in mm, above 0', 0),
    };
  },
  problemsOf(rows) {
    if (rows.length === 0) return ['expected at least one feature'];
    const frames = new Set(rows.map(({ frame }) => frame));
    return frames.size === 1
      ? []
      : ['expected all features in x, y (machine coordinates) or all in X, Y (true millimetres)'];
  },
};

/**
 * Reads features by their names in the layout. An edge is given by two or more points on it.
 *
 * Fails: FILE_MISSING; FILE_UNREADABLE; POINTS_INVALID.
 */
export async function readFixturePoints(
  path: string,
  { features }: Layout,
): Promise<Outcome<FixturePoints>> {
  const table = await readTable(path, FORM);
  if (!table.ok) return table;
  const { rows, name, sha256 } = table.value;
  const problems: string[] = [];
  const places: MeasuredPlace[] = [];
  const byName = new Map<string, PointRow[]>();
  for (const row of rows) byName.set(row.name, [...(byName.get(row.name) ?? []), row]);
  for (const [called, own] of byName) {
    const feature = features.findIndex((one) => one.name === called);
    const where = `line ${own[0].line}: `;
    if (feature < 0) {
      problems.push(
        `${where}name: expected a feature of the layout, found ${JSON.stringify(called)}`,
      );
      continue;
    }
    const nominal = features[feature];
    if (nominal.kind === 'edge') {
      const edge = edgePlace(feature, nominal, own);
      if (edge === undefined) {
        problems.push(`${where}${called}: expected two or more points along this edge`);
      } else {
        places.push(edge);
      }
      continue;
    }
    if (own.length > 1) {
      problems.push(`line ${own[1].line}: ${called} stands twice`);
      continue;
    }
    const [{ atMm, uMm }] = own;
    places.push({ feature, values: [...atMm], covariance: [uMm ** 2, 0, uMm ** 2] });
  }
  if (problems.length > 0) {
    return failed('POINTS_INVALID', `the points file cannot be used\n  ${problems.join('\n  ')}`, {
      where: path,
      hint: FORM.hint,
    });
  }
  return success({ file: name, sha256, frame: rows[0].frame, places });
}

function edgePlace(
  feature: number,
  nominal: Extract<Layout['features'][number], { readonly kind: 'edge' }>,
  rows: readonly PointRow[],
): MeasuredPlace | undefined {
  const { fromMm, toMm } = nominal;
  const [nx, ny] = acrossEdge(nominal);
  const length = Math.hypot(toMm[0] - fromMm[0], toMm[1] - fromMm[1]);
  const n = rows.length;
  const share = rows.map(
    ({ atMm }) => ((atMm[0] - fromMm[0]) * ny - (atMm[1] - fromMm[1]) * nx) / length,
  );
  const covariance = new Float64Array(n * n);
  rows.forEach(({ uMm }, i) => {
    covariance[i * n + i] = uMm ** 2;
  });
  const fit = fitGeneralised(
    rows.map(({ atMm }) => (atMm[0] - fromMm[0]) * nx + (atMm[1] - fromMm[1]) * ny),
    [share.map((one) => 1 - one), share],
    covariance,
  );
  if (fit === undefined) return undefined;
  const [a, b] = fit.values;
  return {
    feature,
    values: [a, b],
    covariance: [fit.covariance[0], fit.covariance[1], fit.covariance[3]],
  };
}
