/** A forecast for the terminal: what will be reached, what stands in the way, which photos do it cheapest. */

import { MM_PER_INCH } from '../../shared/mm-per-inch.js';
import type { Forecast, ForecastQuantity, ForecastWant } from '../../shared/schemas/forecast.js';
import { MEASURE_OF, QUANTITY_NAME } from './quantity-words.js';
import { fixed, showPlace, showUncertainty } from './show-number.js';
import {
  findingText,
  joinSections,
  listDoubts,
  makePage,
  type Page,
  type SummaryOptions,
} from './terminal-page.js';
import { wrapText } from './wrap-text.js';

const SOURCE = {
  photos: {
    name: 'photos',
    help: 'reading the marks in the photos; let the grid fill the picture, or take more photos',
  },
  marks: {
    name: 'marks',
    help: 'the wander of the marks themselves, the same in every photo; cut or burn finer lines, or more of them',
  },
  evidence: {
    name: 'tape, square',
    help: 'the tape or the square; take one of a better class, or a longer length',
  },
  camera: {
    name: 'camera',
    help: 'how much a phone camera may vary from photo to photo; only more photos, or photos nearer to square-on, help; a board turned between two grids (gantrue plan --turned) asks nothing of the camera',
  },
} as const;

const NAME_COLUMNS = 16;
const U_COLUMNS = 33;
/** An unlucky outcome is worth a word from here on. */
const WORTH_TELLING = 1.1;
/** Smaller parts of the variance are not listed. */
const LEAST_SHARE = 0.05;

export function forecastText(forecast: Forecast, options: SummaryOptions): string {
  const page = makePage(options);
  return joinSections([
    headline(forecast, page),
    assumedLines(forecast, page),
    wantLines(forecast, page),
    quantityTable(forecast, page),
    listDoubts(forecast.findings.map(findingText), page),
  ]);
}

function headline(
  { grid, second, photos, want }: Forecast,
  { paint, width, units }: Page,
): string[] {
  const size = `${showPlace(grid.width, units)} × ${showPlace(grid.height, units)}`;
  const title = `Forecast for ${grid.linesAtX} × ${grid.linesAtY} lines over ${size}${second === undefined ? '' : `, marked twice with the board turned ${fixed((Math.abs(second.turnRad) * 180) / Math.PI, 0)}° between`}`;
  const set =
    want === undefined
      ? describePhotos(photos)
      : want.cheapest === undefined
        ? `no set of photos reaches what is wanted; the strongest that was tried: ${describePhotos(photos)}`
        : `the cheapest set that reaches what is wanted: ${describePhotos(photos)}`;
  return [title, set].flatMap((text) => wrapText(text, width).map((line) => paint.bold(line)));
}

function assumedLines(forecast: Forecast, { width, paint, units }: Page): string[] {
  const { camera, fill, mmPerPx, assumed, evidence, gantryAxis } = forecast;
  const focal = `focal length ${Math.round(camera.focalLengthPx)} px${camera.focalLengthKnown ? '' : ', which the photos do not say'}`;
  const travels =
    gantryAxis === 'none'
      ? 'the table moves, not a gantry'
      : `the gantry travels along ${gantryAxis.toUpperCase()}`;
  const lines = [
    `camera ${camera.widthPx} × ${camera.heightPx} px, ${focal}; the grid fills ${fixed(100 * fill, 0)} % of the picture: ${showLength(mmPerPx, units)} per px`,
    `standard deviations assumed: ${assumed.sigmaPixel} px where a stretch of a mark is read in a photo, ${showLength(assumed.sigmaMark, units)} wander of the mark; ${travels}`,
    `taped or checked: ${evidence.length === 0 ? 'nothing' : evidence.join(', ')}`,
  ];
  return lines.flatMap((line) => wrapText(line, width).map(paint.dim));
}

function wantLines({ want }: Forecast, page: Page): string[] {
  if (want === undefined) return [];
  const { paint, width, units } = page;
  const asked = want.asked
    .map(({ what, U }) => `${QUANTITY_NAME[what]} ± ${showUncertainty(MEASURE_OF[what], U, units)}`)
    .join(', ');
  const tried =
    want.cheapest === undefined ? [] : want.tried.map((one, i) => triedLine(one, i, want, page));
  return [
    ...wrapText(`Wanted: ${asked}`, width).map((line) => paint.bold(line)),
    ...tried.flat(),
    ...limitLines(want, page),
  ];
}

function triedLine(
  { photos, lengths, minutes, U }: ForecastWant['tried'][number],
  index: number,
  { asked, cheapest }: ForecastWant,
  { paint, width, units }: Page,
): string[] {
  const reached = asked.map(({ what }, i) => {
    const size = U[i];
    return size === null || size === undefined
      ? `${QUANTITY_NAME[what]} not measured`
      : `${QUANTITY_NAME[what]} ± ${showUncertainty(MEASURE_OF[what], size, units)}`;
  });
  const tape = lengths.length === 0 ? '' : `, ${lengths.length} taped`;
  const text = `${shortPhotos(photos)}${tape}: ${reached.join(', ')}`;
  const lead = `${index === cheapest ? '=>' : '  '}${String(minutes).padStart(4)} min  `;
  const lines = wrapText(text, width, lead);
  return index === cheapest ? lines.map((line) => paint.green(line)) : lines;
}

function limitLines({ limit }: ForecastWant, { width, units, paint }: Page): string[] {
  if (limit === undefined) return [];
  const name = QUANTITY_NAME[limit.what];
  const size =
    limit.U === undefined
      ? `${name} stays open`
      : `${name} comes to ± ${showUncertainty(MEASURE_OF[limit.what], limit.U, units)} at best`;
  const why =
    limit.source === undefined
      ? (limit.reason ?? 'nothing shows it')
      : `${fixed(100 * (limit.share ?? 0), 0)} % of its variance is ${SOURCE[limit.source].help}`;
  return wrapText(`${size}: ${why}`, width).map((line) => paint.yellow(line));
}

function quantityTable(forecast: Forecast, page: Page): string[] {
  const { paint, width } = page;
  const told = new Map<string, string>();
  const notes = wrapText(
    'U is the expanded uncertainty (k = 2, about 95 %) that a measurement will state; in brackets what it may come to where hands happen to tilt the phone badly. The last column says where its variance comes from.',
    width,
  ).map(paint.dim);
  const rows = forecast.quantities.filter(isAsked(forecast)).flatMap((quantity) => {
    const { reason, add } = quantity;
    const key = JSON.stringify([reason, add]);
    const first = told.get(key);
    if (reason === undefined || first === undefined) {
      told.set(key, QUANTITY_NAME[quantity.what]);
      return quantityLines(quantity, reason, add ?? [], page);
    }
    return quantityLines(quantity, `for the same reason as ${first}`, [], page);
  });
  return [...notes, ...rows];
}

/** Whoever states no period or marks nothing again does not ask; where one axis tells, the other one counts. */
function isAsked({ quantities, periods, gantryAxis, want }: Forecast) {
  const wanted = new Set(want?.asked.map(({ what }) => what));
  const showsDrift = quantities.some(
    ({ what, state }) => /^drift/.test(what) && state !== 'undetermined',
  );
  return ({ what }: ForecastQuantity): boolean => {
    if (wanted.has(what)) return true;
    if (what === 'periodic.x') return periods.x !== undefined;
    if (what === 'periodic.y') return periods.y !== undefined;
    if (what === 'drift.x' || what === 'drift.y') return showsDrift;
    return what !== 'racking' || gantryAxis !== 'none';
  };
}

function quantityLines(
  quantity: ForecastQuantity,
  reason: string | undefined,
  add: readonly string[],
  { paint, width, units }: Page,
): string[] {
  const { what, state, U, unlucky, share } = quantity;
  const show = (size: number) => showUncertainty(MEASURE_OF[what], size, units);
  const badly =
    unlucky.U === undefined || unlucky.state !== state
      ? ` (${unlucky.state})`
      : U !== undefined && unlucky.U > WORTH_TELLING * U
        ? ` (${show(unlucky.U)})`
        : '';
  const shown =
    U === undefined ? 'undetermined' : `${state === 'weak' ? 'weak: ' : ''}U ${show(U)}${badly}`;
  const from = (['camera', 'marks', 'photos', 'evidence'] as const)
    .filter((source) => (share?.[source] ?? 0) >= LEAST_SHARE)
    .sort((a, b) => (share?.[b] ?? 0) - (share?.[a] ?? 0))
    .map((source) => `${SOURCE[source].name} ${fixed(100 * (share?.[source] ?? 0), 0)} %`)
    .join(', ');
  const value = state === 'measured' ? shown : paint.yellow(shown);
  const name = paint.bold(QUANTITY_NAME[what].padEnd(NAME_COLUMNS));
  const gap = ' '.repeat(Math.max(2, U_COLUMNS - shown.length));
  const isShort = NAME_COLUMNS + shown.length + gap.length + from.length <= width;
  const indent = ' '.repeat(NAME_COLUMNS);
  const head = isShort
    ? [`${name}${value}${gap}${from}`.trimEnd()]
    : [`${name}${value}`, `${indent}${from}`];
  const below = [...(reason === undefined ? [] : [reason]), ...add.map((one) => `to add: ${one}`)];
  return [...head, ...below.flatMap((line) => wrapText(line, width, indent))];
}

/** `8 photos from above, each a quarter turn of the phone from the last, tilted by about 2°`. */
function describePhotos(groups: Forecast['photos']): string {
  return groups
    .map(({ kind, count, tiltRad }) => {
      const photos = count === 1 ? '1 photo' : `${count} photos`;
      const tilt = `tilted by about ${showDegrees(tiltRad)}`;
      if (kind === 'walked') return `${photos} ${tilt}, from places round the board`;
      if (count === 1) return `${photos} from above, ${tilt}`;
      return kind === 'overhead'
        ? `${photos} from above, each a quarter turn of the phone from the last, ${tilt}`
        : `${photos} from above, the phone held the same way round, ${tilt}`;
    })
    .join('; ');
}

function shortPhotos(groups: Forecast['photos']): string {
  return groups
    .map(
      ({ count, tiltRad }) =>
        `${count} ${count === 1 ? 'photo' : 'photos'} within about ${showDegrees(tiltRad)}`,
    )
    .join(', ');
}

function showDegrees(rad: number): string {
  return `${Number(((rad * 180) / Math.PI).toPrecision(3))}°`;
}

/** Three significant digits, for lengths far below a millimetre. */
function showLength(lengthMm: number, units: 'mm' | 'in'): string {
  const shown = units === 'mm' ? lengthMm : lengthMm / MM_PER_INCH;
  return `${Number(shown.toPrecision(3))} ${units}`;
}
