/** A fixture for the terminal: what is wrong, where it sits, what to do, and each feature. */

import type {
  FixtureCauseRecord,
  FixtureFeatureRecord,
  FixturePlacementRecord,
  FixtureResult,
} from '../../shared/schemas/fixture.js';
import { fixed, showPlace, showValue, type Units } from './show-number.js';
import {
  findingText,
  joinSections,
  listDoubts,
  makePage,
  type Page,
  type SummaryOptions,
} from './terminal-page.js';
import { wrapText } from './wrap-text.js';

const DEGREES = 180 / Math.PI;
/** Of belief: less is not listed. */
const LEAST_SHARE = 0.005;
const MOST_CAUSES = 6;
const MOST_NAME = 16;

const WHICH: Record<NonNullable<FixtureResult['cause']>['which'], string> = {
  nothing: 'Nothing is wrong: the features are where they ought to be, within their uncertainties.',
  fixture: 'The fixture: its own pattern is sound, but it sits askew.',
  machine:
    'The machine: the pattern differs from the layout by the machine’s own scale and squareness.',
  board: 'The board: the pattern is stretched, as wood swells or shrinks.',
  'one feature': 'One feature is off; the others agree.',
  'none of these':
    'None of the usual causes: the features scatter without a pattern that machine, board or placement would make.',
  'cannot tell': 'Which it is cannot be told from these features.',
};

const SHAPE_WORDS: Record<FixtureCauseRecord['shape'], string> = {
  'as the machine goes': 'as this machine goes',
  true: 'true, so that the machine’s errors show',
  'machine error doubled': 'the machine’s errors twice',
  stretched: 'stretched (two scales)',
  'one feature off': 'off',
  'none of these': 'none of these',
};

export function fixtureText(result: FixtureResult, options: SummaryOptions): string {
  const page = makePage(options);
  return joinSections([
    headline(result, page),
    causeLines(result, page),
    placementLines(result, page),
    correctionLines(result, page),
    featureLines(result, page),
    explanationLines(result, page),
    listDoubts(
      result.findings.map(
        (one) => `${findingText(one)}${one.where === undefined ? '' : ` (${one.where})`}`,
      ),
      page,
    ),
    result.cautions.length === 0
      ? []
      : [
          page.paint.bold('Caution:'),
          ...result.cautions.flatMap((one) => wrapText(one, page.width, '  ! ')),
        ],
  ]);
}

function headline({ layout, features, photos, points }: FixtureResult, page: Page): string[] {
  const found = features.filter(({ state }) => state === 'found').length;
  const used = photos.filter((one) => one.used).length;
  const from =
    points === undefined
      ? `in ${used} ${used === 1 ? 'photo' : 'photos'}`
      : `from ${points.file} (${points.frame === 'machine' ? 'machine coordinates' : 'true millimetres'})`;
  const text = `${layout.name ?? layout.file}: ${found} of ${features.length} features measured ${from}`;
  return wrapText(text, page.width).map((line) => page.paint.bold(line));
}

function causeLines({ cause }: FixtureResult, page: Page): string[] {
  if (cause === undefined) return [];
  const { which, shape, placement, feature, stretch } = cause;
  const parts = [WHICH[which]];
  if (feature !== undefined) parts[0] = `One feature is off, ${feature}; the others agree.`;
  if (shape.between !== undefined) {
    parts.push(`The pattern lies between: ${shape.between.join('; ')}.`);
  }
  if (stretch !== undefined) {
    const slope = (one: typeof stretch.x) => showValue('slope', one.value, one.U, page.units).withU;
    parts.push(
      `Stretch ${slope(stretch.x)} along X, ${slope(stretch.y)} along Y (+ longer than drawn).`,
    );
  }
  if (placement.named !== undefined && which !== 'nothing') {
    parts.push(
      placement.named === 'as nominal' ? 'It sits where it ought to.' : `It is ${placement.named}.`,
    );
  } else if (placement.between !== undefined) {
    parts.push(`Its place lies between: ${placement.between.join('; ')}.`);
  }
  const colour = which === 'nothing' ? page.paint.green : page.paint.yellow;
  const lines = parts.flatMap((part) => wrapText(part, page.width));
  return [colour(lines[0]), ...lines.slice(1)];
}

function placementLines({ inMachine, onBoard, machine }: FixtureResult, page: Page): string[] {
  if (inMachine === undefined) return [];
  const unit = machine.scaleKnown
    ? 'true millimetres'
    : 'the board’s own millimetres (no known length)';
  return [
    page.paint.bold('Where it sits:'),
    ...describePlacement('in machine coordinates', inMachine, page),
    ...(onBoard === undefined ? [] : describePlacement(`on the board, in ${unit}`, onBoard, page)),
  ];
}

function describePlacement(where: string, one: FixturePlacementRecord, page: Page): string[] {
  const { units, width } = page;
  const { offset, at, rotation, overLength } = one;
  const length = (value: number, U: number) => showValue('length', value, U, units).withU;
  const place = `(${showPlace(at.x, units)}, ${showPlace(at.y, units)})`;
  const sense = rotation.value >= 0 ? 'anticlockwise' : 'clockwise';
  const turn =
    overLength.length > 0
      ? `${length(Math.abs(overLength.value), overLength.U)} over its ${showPlace(overLength.length, units)} along ${overLength.along.toUpperCase()}`
      : showValue('slope', Math.abs(rotation.value), rotation.U, units).withU;
  const widened =
    one.widened === undefined || one.widened < 1.5
      ? ''
      : `; the features fit ${fixed(one.widened, 1)} times worse than they should, and U is wider for it`;
  return wrapText(
    `${where}: offset X ${length(offset.x.value, offset.x.U)}, Y ${length(offset.y.value, offset.y.U)} at ${place}; turned ${degrees(Math.abs(rotation.value) * DEGREES, rotation.U * DEGREES)} ${sense}, ${turn}${widened}`,
    width,
    '  ',
  );
}

function correctionLines({ correction }: FixtureResult, page: Page): string[] {
  if (correction === undefined) return [];
  const { units, width } = page;
  if (correction.leaveAlone) {
    return wrapText(`Leave it: ${correction.why}.`, width).map((line) => page.paint.green(line));
  }
  const { workOffset, rotationDegrees, offsetAlone, shim } = correction;
  const length = (value: number, U: number) => showValue('length', value, U, units).withU;
  const lines: string[] = [];
  if (shim !== undefined) {
    lines.push(
      `mechanically: bring the ${shim.end} end ${length(shim.thickness, shim.U)} toward ${shim.toward} (a shim of that thickness behind that end, where the fixture leans on a fence)`,
    );
  }
  lines.push(
    `or in the program: work offset moved by X ${length(workOffset.x.value, workOffset.x.U)}, Y ${length(workOffset.y.value, workOffset.y.U)}, with a coordinate rotation of ${degrees(rotationDegrees.value, rotationDegrees.U)} about that zero (+ anticlockwise)`,
    `where no rotation can be set: work offset moved by X ${length(offsetAlone.x, workOffset.x.U)}, Y ${length(offsetAlone.y, workOffset.y.U)}`,
  );
  return [
    page.paint.bold('To put it right:'),
    ...lines.flatMap((one) => wrapText(one, width, '  - ')),
  ];
}

function featureLines({ features }: FixtureResult, page: Page): string[] {
  const name = Math.min(MOST_NAME, Math.max(...features.map((one) => one.name.length))) + 2;
  return [
    ...wrapText(
      'Features: off by; position deviation 2√(dx²+dy²) left after offset and turn',
      page.width,
    ).map((line) => page.paint.bold(line)),
    ...features.flatMap((one) => featureLine(one, name, page)),
  ];
}

function featureLine(feature: FixtureFeatureRecord, columns: number, page: Page): string[] {
  const { units, width, paint } = page;
  const head = `  ${feature.name.padEnd(columns)}`;
  if (feature.state !== 'found' || feature.asPlaced === undefined) {
    const word = feature.state === 'covered' ? 'COVERED' : 'NOT FOUND';
    return wrapText(`${word}: ${feature.reason ?? ''}`, width, head);
  }
  const { asPlaced, asUsed, asBuilt, tolerance } = feature;
  const signed = (value: number) => {
    const shown = units === 'mm' ? fixed(value, 3) : fixed(value / 25.4, 4);
    return `${value >= 0 ? '+' : ''}${shown}`;
  };
  const parts = [`X ${signed(asPlaced.dx)}  Y ${signed(asPlaced.dy)} ${units}`];
  const left = asUsed ?? asPlaced;
  parts.push(`left ${showValue('length', left.deviation.value, left.deviation.U, units).withU}`);
  if (tolerance !== undefined && left.verdict !== undefined) {
    const word = { inside: 'inside', outside: 'OUTSIDE', 'cannot tell': 'cannot tell' }[
      left.verdict
    ];
    parts.push(`${word} ${showPlaceFine(tolerance, units)}`);
  }
  if (asBuilt?.verdict !== undefined && asBuilt.verdict !== left.verdict) {
    parts.push(`in true millimetres ${asBuilt.verdict}`);
  }
  if (feature.apart !== undefined && feature.apart.probability < STANDS_APART) {
    const { dx, dy } = feature.apart;
    parts.push(`stands apart from the others by X ${signed(dx)}, Y ${signed(dy)} ${units}`);
  }
  const lines = wrapText(parts.join('; '), width, head);
  const isBad = left.verdict === 'outside';
  return isBad ? [paint.red(lines[0]), ...lines.slice(1)] : lines;
}

/** By chance less often than this. */
const STANDS_APART = 1e-3;

function explanationLines({ causes }: FixtureResult, page: Page): string[] {
  const shown = causes.filter(({ share }, i) => i < MOST_CAUSES && (i < 2 || share >= LEAST_SHARE));
  if (shown.length === 0) return [];
  return [
    ...wrapText('What was tried: share of belief, χ² / degrees of freedom', page.width).map(
      (line) => page.paint.bold(line),
    ),
    ...shown.flatMap((one) => {
      const percent = `${fixed(100 * one.share, one.share < 0.1 ? 1 : 0)} %`.padStart(7);
      const what =
        one.feature === undefined
          ? `pattern ${SHAPE_WORDS[one.shape]}`
          : `${one.feature} ${SHAPE_WORDS[one.shape]}`;
      const words = one.shape === 'none of these' ? 'none of these' : what;
      return wrapText(
        `${one.placement}, ${words}: χ² ${fixed(one.chiSquared, 1)} / ${one.freedom}`,
        page.width,
        `  ${percent}  `,
      );
    }),
  ];
}

function showPlaceFine(lengthMm: number, units: Units): string {
  return units === 'mm'
    ? `${Number(lengthMm.toPrecision(4))} mm`
    : `${fixed(lengthMm / 25.4, 4)} in`;
}

function degrees(value: number, U: number): string {
  const decimals = Math.min(6, Math.max(2, 1 - Math.floor(Math.log10(U > 0 ? U : 1e-3))));
  return `${fixed(value, decimals)} ± ${fixed(U, decimals)}°`;
}
