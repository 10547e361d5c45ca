/** The layout file of a fixture. */

import { dirname, join } from 'node:path';
import { MM_PER_INCH } from '../../shared/mm-per-inch.js';
import {
  DEFAULT_SCATTER_MM,
  type LayoutFile,
  type LayoutFileFeature,
  layoutSchema,
  UNKNOWN_HEIGHT_U_MM,
} from '../../shared/schemas/layout.js';
import type { Hole } from '../../shared/stroke.js';
import type { Layout, LayoutFeature } from '../fixture/index.js';
import { failed, type Outcome, success } from '../quantity/index.js';
import { readCommandsFile } from './read-program-file.js';
import { readYamlFile, type YamlKind } from './read-yaml-file.js';

const KIND: YamlKind<LayoutFile> = {
  schema: layoutSchema,
  code: 'LAYOUT_INVALID',
  name: 'layout file',
};

/** How far a feature is looked for where the layout does not say, mm: fixtures are put down within that. */
const SEARCH_MM = 3;
/** Length of a corner's edges that is looked at, mm. */
const ARM_MM = 20;
/** Features beyond this are no fixture, and would take hours. */
const MOST_FEATURES = 500;

export interface LayoutOptions {
  /** Program whose holes serve where the layout asks for holes and names no program. */
  readonly program?: string;
  readonly marking: 'auto' | 'cutter' | 'laser';
  readonly blockDelete: boolean;
}

/**
 * Reads a layout; the holes of a program become features named `hole 1`, `hole 2`, ….
 *
 * Fails: FILE_MISSING; FILE_UNREADABLE; LAYOUT_INVALID; what reading a program fails with.
 */
export async function readLayout(path: string, options: LayoutOptions): Promise<Outcome<Layout>> {
  const read = await readYamlFile(path, KIND);
  if (!read.ok) return read;
  const file = read.value;
  const holes = await holesOf(file, path, options);
  if (!holes.ok) return holes;
  const factor = file.units === 'in' ? MM_PER_INCH : 1;
  const features = [
    ...(file.features ?? []).map((one) => featureOf(one, file, factor)),
    ...holes.value.map((hole, i) => holeFeature(hole, i, file, factor)),
  ];
  const problem = problemOf(features);
  if (problem !== undefined) {
    return failed('LAYOUT_INVALID', `the layout file cannot be used\n  ${problem}`, {
      where: path,
      hint: 'keys and units are described in the README',
    });
  }
  return success({
    ...(file.name === undefined ? {} : { name: file.name }),
    clearanceMm: (file.clearance ?? 0) * factor,
    searchMm: file.search === undefined ? SEARCH_MM : file.search * factor,
    features,
  });
}

async function holesOf(
  { holes }: LayoutFile,
  path: string,
  { program, marking, blockDelete }: LayoutOptions,
): Promise<Outcome<readonly Hole[]>> {
  if (holes === undefined) return success([]);
  const file = holes.program === undefined ? program : join(dirname(path), holes.program);
  if (file === undefined) {
    return failed(
      'LAYOUT_INVALID',
      'the layout asks for the holes of a program, but none is named',
      {
        where: path,
        hint: 'write `holes: { program: inserts.ngc }` with its path from the layout’s folder, or give --program',
      },
    );
  }
  const read = await readCommandsFile(file, { name: file, marking, blockDelete });
  if (!read.ok) return read;
  if (read.value.holes.length > 0) return success(read.value.holes);
  return failed('LAYOUT_INVALID', 'the program makes no holes', {
    where: file,
    hint: 'name the program that drilled or milled them',
  });
}

type Shape = Pick<LayoutFileFeature, 'height' | 'heightU' | 'tolerance' | 'scatter' | 'role'>;

function baseOf(
  name: string,
  kind: LayoutFileFeature['kind'],
  one: Shape,
  file: LayoutFile,
  factor: number,
) {
  const { height, heightU, role } = one;
  // A hole lies in the board unless it is said otherwise; everything else stands up by nobody knows how much.
  const isFlat = kind === 'hole' || kind === 'insert';
  const unknownU = isFlat ? 0 : UNKNOWN_HEIGHT_U_MM;
  const scatter = one.scatter ?? file.scatter;
  const tolerance = one.tolerance ?? file.tolerance;
  const usual = DEFAULT_SCATTER_MM[kind];
  return {
    name,
    ...(role === undefined ? {} : { role }),
    heightMm: (height ?? 0) * factor,
    heightUMm: heightU === undefined ? (height === undefined ? unknownU : 0) : heightU * factor,
    isHeightKnown: isFlat || height !== undefined,
    ...(tolerance === undefined ? {} : { toleranceMm: tolerance * factor }),
    scatterMm:
      scatter === undefined
        ? role === 'clamp'
          ? Math.max(usual, DEFAULT_SCATTER_MM.insert)
          : usual
        : scatter * factor,
  };
}

function featureOf(one: LayoutFileFeature, file: LayoutFile, factor: number): LayoutFeature {
  const base = baseOf(one.name, one.kind, one, file, factor);
  if (one.kind === 'edge') {
    const scaled = ([x, y]: readonly [number, number]) => [x * factor, y * factor] as const;
    return { ...base, kind: 'edge', fromMm: scaled(one.from), toMm: scaled(one.to) };
  }
  const atMm = [one.x * factor, one.y * factor] as const;
  if (one.kind === 'corner') {
    const first = ((one.angle ?? 0) * Math.PI) / 180;
    const opening = ((one.opening ?? 90) * Math.PI) / 180;
    return {
      ...base,
      kind: 'corner',
      atMm,
      edgesRad: [first, first + opening],
      armMm: one.arm === undefined ? ARM_MM : one.arm * factor,
    };
  }
  return { ...base, kind: one.kind, atMm, ...roundOf(one, factor) };
}

function roundOf(
  { diameter, counterbore }: Pick<NonNullable<LayoutFile['holes']>, 'diameter' | 'counterbore'>,
  factor: number,
) {
  return {
    ...(diameter === undefined ? {} : { diameterMm: diameter * factor }),
    ...(counterbore === undefined
      ? {}
      : {
          counterbore: {
            diameterMm: counterbore.diameter * factor,
            depthMm: (counterbore.depth ?? 0) * factor,
          },
        }),
  };
}

/** The centre is the program's, and the bore that it goes round with the tool's own width unknown. */
function holeFeature(
  { centreMm }: Hole,
  i: number,
  file: LayoutFile,
  factor: number,
): LayoutFeature {
  const holes = file.holes ?? {};
  const kind = holes.kind ?? 'hole';
  return {
    ...baseOf(`hole ${i + 1}`, kind, holes, file, factor),
    kind,
    atMm: centreMm,
    ...roundOf(holes, factor),
  };
}

/** What the schema cannot say. */
function problemOf(features: readonly LayoutFeature[]): string | undefined {
  if (features.length === 0) return 'expected features, or holes of a program';
  if (features.length > MOST_FEATURES) {
    return `expected at most ${MOST_FEATURES} features, found ${features.length}`;
  }
  const names = new Set<string>();
  for (const feature of features) {
    const { name } = feature;
    if (names.has(name)) return `features: the name ${JSON.stringify(name)} stands twice`;
    names.add(name);
    if (feature.kind === 'edge') {
      const { fromMm, toMm } = feature;
      if (Math.hypot(toMm[0] - fromMm[0], toMm[1] - fromMm[1]) < 1) {
        return `${name}: expected an edge between two different points`;
      }
    } else if (feature.kind !== 'corner' && feature.counterbore !== undefined) {
      const { counterbore, diameterMm } = feature;
      if (diameterMm !== undefined && counterbore.diameterMm <= diameterMm) {
        return `${name}: expected a counterbore wider than its hole`;
      }
    }
  }
  return undefined;
}
