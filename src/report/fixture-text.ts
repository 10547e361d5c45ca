/** A fixture for the terminal: what is wrong, where it sits, what to do, and each feature. */

import type {
  FixtureFeatureRecord,
  FixturePlacementRecord,
  FixtureResult,
} from '../../shared/schemas/fixture.js';
import {
  boardMillimetres,
  causeName,
  causeTexts,
  correctionTexts,
  culpritText,
  fixtureHeadline,
  leftOf,
  placementText,
  shareText,
  shownCauses,
  showTolerance,
  signedLength,
  standsApart,
} from './fixture-words.js';
import { fixed, showValue } from './show-number.js';
import {
  findingText,
  joinSections,
  listDoubts,
  makePage,
  type Page,
  type SummaryOptions,
} from './terminal-page.js';
import { wrapText } from './wrap-text.js';

const MOST_NAME = 16;

export function fixtureText(result: FixtureResult, options: SummaryOptions): string {
  const page = makePage(options);
  return joinSections([
    wrapText(fixtureHeadline(result), page.width).map((line) => page.paint.bold(line)),
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

function causeLines(result: FixtureResult, page: Page): string[] {
  const lines = causeTexts(result, page.units).flatMap((part) => wrapText(part, page.width));
  if (lines.length === 0) return [];
  const colour = result.cause?.which === 'nothing' ? page.paint.green : page.paint.yellow;
  return [colour(lines[0]), ...lines.slice(1)];
}

function placementLines(result: FixtureResult, page: Page): string[] {
  const { inMachine, onBoard } = result;
  if (inMachine === undefined) return [];
  return [
    page.paint.bold('Where it sits:'),
    ...describePlacement('in machine coordinates', inMachine, page),
    ...(onBoard === undefined
      ? []
      : describePlacement(`on the board, in ${boardMillimetres(result)}`, onBoard, page)),
  ];
}

function describePlacement(where: string, one: FixturePlacementRecord, page: Page): string[] {
  const { offset, turn, widened } = placementText(one, page.units);
  return wrapText(
    `${where}: offset ${offset}; turned ${turn}${widened === undefined ? '' : `; ${widened}`}`,
    page.width,
    '  ',
  );
}

function correctionLines(result: FixtureResult, page: Page): string[] {
  const { correction } = result;
  if (correction === undefined) return [];
  const { units, width } = page;
  const culprit = culpritText(result, units);
  const ofOne = culprit === undefined ? [] : wrapText(culprit, width, '  - ');
  if (correction.leaveAlone) {
    return [
      ...wrapText(`Leave it: ${correction.why}.`, width).map((line) => page.paint.green(line)),
      ...ofOne,
    ];
  }
  return [
    page.paint.bold('To put it right:'),
    ...ofOne,
    ...correctionTexts(correction, units).flatMap((one) => wrapText(one, width, '  - ')),
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
  const left = leftOf(feature);
  if (feature.state !== 'found' || feature.asPlaced === undefined || left === undefined) {
    const word = feature.state === 'covered' ? 'COVERED' : 'NOT FOUND';
    return wrapText(`${word}: ${feature.reason ?? ''}`, width, head);
  }
  const { asPlaced, asBuilt, tolerance } = feature;
  const signed = (value: number) => signedLength(value, units);
  const parts = [`X ${signed(asPlaced.dx)}  Y ${signed(asPlaced.dy)} ${units}`];
  parts.push(`left ${showValue('length', left.deviation.value, left.deviation.U, units).withU}`);
  if (tolerance !== undefined && left.verdict !== undefined) {
    const word = { inside: 'inside', outside: 'OUTSIDE', 'cannot tell': 'cannot tell' }[
      left.verdict
    ];
    parts.push(`${word} ${showTolerance(tolerance, units)}`);
  }
  if (asBuilt?.verdict !== undefined && asBuilt.verdict !== left.verdict) {
    parts.push(`in true millimetres ${asBuilt.verdict}`);
  }
  if (feature.apart !== undefined && standsApart(feature)) {
    const { dx, dy } = feature.apart;
    parts.push(`stands apart from the others by X ${signed(dx)}, Y ${signed(dy)} ${units}`);
  }
  const lines = wrapText(parts.join('; '), width, head);
  const isBad = left.verdict === 'outside';
  return isBad ? [paint.red(lines[0]), ...lines.slice(1)] : lines;
}

function explanationLines(result: FixtureResult, page: Page): string[] {
  const shown = shownCauses(result);
  if (shown.length === 0) return [];
  return [
    ...wrapText('What was tried: share of belief, χ² / degrees of freedom', page.width).map(
      (line) => page.paint.bold(line),
    ),
    ...shown.flatMap((one) =>
      wrapText(
        `${one.placement}, ${causeName(one)}: χ² ${fixed(one.chiSquared, 1)} / ${one.freedom}`,
        page.width,
        `  ${shareText(one.share).padStart(7)}  `,
      ),
    ),
  ];
}
