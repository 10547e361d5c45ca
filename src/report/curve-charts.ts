/** Curves along a travel with their bands of U: straightness of both motions, yaw of the gantry. */

import { area, line } from 'd3-shape';
import { MM_PER_INCH } from '../../shared/mm-per-inch.js';
import {
  COVERAGE_FACTOR,
  type CurvePoint,
  type Measurement,
} from '../../shared/schemas/measurement.js';
import { drawChart } from './chart-frame.js';
import { type Markup, markup } from './escape-markup.js';
import type { Units } from './show-number.js';

/** Straightness of X motion and of Y motion, where they are told. */
export function straightnessCharts(
  { straightness, straightnessCurve }: Pick<Measurement, 'straightness' | 'straightnessCurve'>,
  units: Units,
): Markup[] {
  return (['x', 'y'] as const).flatMap((axis) => {
    const curve = straightnessCurve?.[axis] ?? [];
    const { state } = straightness[axis];
    if (curve.length < 2 || state === 'undetermined') return [];
    const [name, across] = axis === 'x' ? ['X', 'Y'] : ['Y', 'X'];
    const weak = state === 'weak' ? ' (weak)' : '';
    return [
      curveChart(curve, units === 'mm' ? 1 : 1 / MM_PER_INCH, {
        title: `Straightness of ${name} motion${weak}, ${units}`,
        description: `Straightness of ${name} motion: how far it strays toward +${across} along ${name}, with a band of U`,
        x: `${name}, ${units}`,
        y: `toward +${across}, ${units}`,
        perPlace: units === 'mm' ? 1 : 1 / MM_PER_INCH,
      }),
    ];
  });
}

/** Yaw of the gantry along its travel, in mm per metre of beam. */
export function yawChart(
  { racking, gantryAxis }: Pick<Measurement, 'racking' | 'gantryAxis'>,
  units: Units,
): Markup | undefined {
  const { curve } = racking;
  if (racking.state === 'undetermined' || curve === undefined || curve.length < 2) return undefined;
  const travel = gantryAxis.toUpperCase();
  const [factor, unit] = units === 'mm' ? [1000, 'mm/m'] : [12, 'in/ft'];
  return curveChart(curve, factor, {
    title: `Racking: yaw of the gantry along its travel${racking.state === 'weak' ? ' (weak)' : ''}, ${unit}`,
    description: `Racking, the yaw of the gantry about its mean along ${travel}, with a band of U: anticlockwise seen from above is +`,
    x: `${travel}, ${units}`,
    y: `yaw, ${unit}`,
    perPlace: units === 'mm' ? 1 : 1 / MM_PER_INCH,
  });
}

interface Words {
  readonly title: string;
  readonly description: string;
  readonly x: string;
  readonly y: string;
  readonly perPlace: number;
}

function curveChart(curve: readonly CurvePoint[], perUnit: number, words: Words): Markup {
  const points = [...curve]
    .sort((a, b) => a.at - b.at)
    .map((point) => ({
      place: point.at * words.perPlace,
      value: point.value * perUnit,
      U: COVERAGE_FACTOR * point.u * perUnit,
    }));
  type Point = (typeof points)[number];
  return drawChart({
    title: words.title,
    description: words.description,
    x: { label: words.x, values: points.map(({ place }) => place) },
    y: {
      label: words.y,
      values: [0, ...points.flatMap(({ value, U }) => [value - U, value + U])],
      isRound: true,
    },
    draw: (x, y) => {
      const band = area<Point>()
        .x((point) => x(point.place))
        .y0((point) => y(point.value - point.U))
        .y1((point) => y(point.value + point.U))
        .digits(1)(points);
      const path = line<Point>()
        .x((point) => x(point.place))
        .y((point) => y(point.value))
        .digits(1)(points);
      return markup`<g class="forward"><path class="band" d="${band ?? ''}"/><path class="line" d="${path ?? ''}"/></g>`;
    },
  });
}
