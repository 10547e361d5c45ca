/** The features of a fixture seen from above, with how far off each is, exaggerated by a stated factor. */

import { MM_PER_INCH } from '../../shared/mm-per-inch.js';
import type {
  FixtureFeatureRecord,
  FixturePosition,
  FixtureResult,
} from '../../shared/schemas/fixture.js';
import { at, drawChart, type Scale } from './chart-frame.js';
import { type Markup, markup } from './escape-markup.js';
import { leftOf } from './fixture-words.js';
import { roundDown, roundText, scaleBar } from './scale-bar.js';
import { showValue, type Units } from './show-number.js';

/** As it lies, against its nominal place; or what is left after the best offset and turn, with the tolerance zones. */
export type FixtureMapKind = 'as it lies' | 'left';

export interface FixtureMap {
  readonly chart: Markup;
  /** How many times the deviations are drawn larger than they are. */
  readonly factor: number;
}

/** The longest arrow, and the widest tolerance zone, are drawn as this share of the fixture's size. */
const LARGEST_SHARE = 0.14;
/** Round the features, as a share of the fixture's size. */
const BORDER_SHARE = 0.18;
/** A map is no higher than so many times its width: it must fit on a page of paper. */
const MOST_HEIGHT = 1.1;
/** Of more features only those that are not inside are numbered. */
const MOST_NUMBERS = 40;

interface Drawn {
  readonly feature: FixtureFeatureRecord;
  readonly number: number;
  /** In the unit shown. */
  readonly x: number;
  readonly y: number;
  /** Absent where it was not found. */
  readonly off?: { readonly dx: number; readonly dy: number; readonly size: number };
  readonly verdict: FixturePosition['verdict'];
}

/** @returns undefined where nothing was found. */
export function fixtureMap(
  { features }: Pick<FixtureResult, 'features'>,
  kind: FixtureMapKind,
  units: Units,
): FixtureMap | undefined {
  const perUnit = units === 'mm' ? 1 : 1 / MM_PER_INCH;
  const drawn = features.map((feature, i): Drawn => {
    const position = kind === 'left' ? leftOf(feature) : feature.asPlaced;
    const [dx, dy] = [(position?.dx ?? 0) * perUnit, (position?.dy ?? 0) * perUnit];
    return {
      feature,
      number: i + 1,
      x: feature.nominal.x * perUnit,
      y: feature.nominal.y * perUnit,
      ...(position === undefined ? {} : { off: { dx, dy, size: Math.hypot(dx, dy) } }),
      verdict: leftOf(feature)?.verdict,
    };
  });
  const found = drawn.filter((one): one is Drawn & Required<Pick<Drawn, 'off'>> => !!one.off);
  if (found.length === 0) return undefined;

  const zones = kind === 'left';
  const { x, y, size } = room(drawn, perUnit);
  const longest = found.reduce((most, one) => (one.off.size > most.off.size ? one : most));
  const widest = Math.max(
    ...drawn.map(({ feature }) => (zones ? ((feature.tolerance ?? 0) * perUnit) / 2 : 0)),
  );
  const factor = roundDown(
    (LARGEST_SHARE * size) / Math.max(longest.off.size, widest, 1e-6 * size),
  );
  const barError = roundDown((1.5 * LARGEST_SHARE * size) / factor);
  const what = zones ? 'What is left after offset and turn' : 'As it lies';
  const longestText = showValue(
    'length',
    longest.off.size / perUnit,
    uOf(longest.feature, kind),
    units,
  ).size;
  const chart = drawChart({
    title: `${what}, deviations × ${factor}`,
    description: `Map of ${features.length} features seen from above: arrows, drawn ${factor} times larger, from where each ought to be to where it ${zones ? 'would be met' : 'is'}; the longest is that of ${longest.number} ${longest.feature.name}, ${longestText}; the bar stands for ${roundText(barError)} ${units} of error; the values are in the table of features`,
    x: { label: `X, ${units}`, values: x },
    y: { label: `Y, ${units}`, values: y },
    isMap: true,
    draw: (toX, toY) => [
      zones ? zoneMarks(drawn, factor * perUnit, toX, toY) : undefined,
      markup`<g class="nominal">${drawn.map((one) => nominalMark(one, perUnit, toX, toY))}</g>`,
      markup`<g class="error">${found.map((one) => arrow(one, factor, toX, toY))}</g>`,
      markup`<g class="numbers">${drawn.filter((one) => drawn.length <= MOST_NUMBERS || one.verdict !== 'inside').map((one) => numberOf(one, zones ? factor * perUnit : 0, toX, toY))}</g>`,
      scaleBar(barError, factor, [x[0] + 0.03 * size, y[0] + 0.05 * size], units, toX, toY),
    ],
  });
  return { chart, factor };
}

function uOf(feature: FixtureFeatureRecord, kind: FixtureMapKind): number {
  const position = kind === 'left' ? leftOf(feature) : feature.asPlaced;
  // A position deviation is twice the distance.
  return (position?.deviation.U ?? 0) / 2;
}

/** Room for all features, arrows and the bar; never too high for its width. */
function room(drawn: readonly Drawn[], perUnit: number) {
  const ends = drawn.flatMap(({ feature: { from, to } }) =>
    from === undefined || to === undefined ? [] : [from, to],
  );
  const xs = [...drawn.map(({ x }) => x), ...ends.map(({ x }) => x * perUnit)];
  const ys = [...drawn.map(({ y }) => y), ...ends.map(({ y }) => y * perUnit)];
  const [x0, x1, y0, y1] = [
    Math.min(...xs),
    Math.max(...xs),
    Math.min(...ys),
    Math.max(...ys),
  ] as const;
  // A single feature has no size: as large as a palm.
  const size = Math.max(x1 - x0, y1 - y0) || 100 * perUnit;
  const border = BORDER_SHARE * size;
  const height = y1 - y0 + 2.4 * border;
  const across = Math.max(x1 - x0 + 2 * border, height / MOST_HEIGHT);
  const middle = (x0 + x1) / 2;
  return {
    size,
    x: [middle - across / 2, middle + across / 2] as const,
    y: [y0 - 1.4 * border, y1 + border] as const,
  };
}

/** Of points alone: the zone of an edge runs along it, and its table says it. */
function zoneMarks(drawn: readonly Drawn[], factor: number, x: Scale, y: Scale): Markup {
  return markup`<g class="zone">${drawn.map(({ feature, x: cx, y: cy }) => {
    if (feature.tolerance === undefined || feature.kind === 'edge') return undefined;
    const radius = x((feature.tolerance * factor) / 2) - x(0);
    return markup`<circle cx="${at(x(cx))}" cy="${at(y(cy))}" r="${at(radius)}"/>`;
  })}</g>`;
}

function nominalMark({ feature, off, x: cx, y: cy }: Drawn, perUnit: number, x: Scale, y: Scale) {
  const { from, to } = feature;
  const edge =
    from === undefined || to === undefined
      ? undefined
      : markup`<line x1="${at(x(from.x * perUnit))}" y1="${at(y(from.y * perUnit))}" x2="${at(x(to.x * perUnit))}" y2="${at(y(to.y * perUnit))}"/>`;
  const [u, v] = [x(cx), y(cy)];
  const mark =
    off === undefined
      ? markup`<path class="unseen" d="M${at(u - 5)} ${at(v - 5)}L${at(u + 5)} ${at(v + 5)}M${at(u - 5)} ${at(v + 5)}L${at(u + 5)} ${at(v - 5)}"/>`
      : markup`<circle cx="${at(u)}" cy="${at(v)}" r="3"/>`;
  return markup`${edge}${mark}`;
}

/** The tip says the verdict by its shape: disc inside or not judged, square outside, hollow diamond cannot tell. */
function arrow(
  { x: cx, y: cy, off, verdict }: Drawn & Required<Pick<Drawn, 'off'>>,
  factor: number,
  x: Scale,
  y: Scale,
): Markup {
  const [u, v] = [x(cx + factor * off.dx), y(cy + factor * off.dy)];
  const tip =
    verdict === 'outside'
      ? markup`<rect class="tip" x="${at(u - 4.5)}" y="${at(v - 4.5)}" width="9" height="9"/>`
      : verdict === 'cannot tell'
        ? markup`<path class="tip" d="M${at(u)} ${at(v - 6)}L${at(u + 6)} ${at(v)}L${at(u)} ${at(v + 6)}L${at(u - 6)} ${at(v)}Z"/>`
        : markup`<circle class="tip" cx="${at(u)}" cy="${at(v)}" r="3.5"/>`;
  return markup`<line x1="${at(x(cx))}" y1="${at(y(cy))}" x2="${at(u)}" y2="${at(v)}"/>${tip}`;
}

/** Beside the nominal place and its zone, away from the arrow. */
function numberOf(
  { feature: { tolerance = 0, kind }, number, off, x: cx, y: cy }: Drawn,
  factor: number,
  x: Scale,
  y: Scale,
): Markup {
  const zone = kind === 'edge' ? 0 : x((tolerance * factor) / 2) - x(0);
  const away = Math.max(6, 3 + zone * Math.SQRT1_2);
  const isRight = (off?.dx ?? 0) <= 0;
  const isBelow = (off?.dy ?? 0) > 0;
  return markup`<text x="${at(x(cx) + (isRight ? away : -away))}" y="${at(y(cy) + (isBelow ? away + 10 : -away))}" text-anchor="${isRight ? 'start' : 'end'}">${number}</text>`;
}
