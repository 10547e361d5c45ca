/** The summary in the terminal: what is wrong, which way, by how much, and what to do in which order. */

import type { Measurement, PhotoRecord } from '../../shared/schemas/measurement.js';
import { cautions } from '../correction/index.js';
import { describeCamera } from './describe-camera.js';
import { describeImagePoints, describePoints } from './describe-points.js';
import { describeProposal } from './describe-proposals.js';
import { describeQuantities, type QuantityText } from './describe-quantity.js';
import { freshTexts } from './fresh-text.js';
import { methodTexts } from './method-text.js';
import { oneMoreTexts } from './one-more-text.js';
import { otherWarnings } from './other-warnings.js';
import {
  findingText,
  joinSections,
  listDoubts,
  makePage,
  type Page,
  type SummaryOptions,
} from './terminal-page.js';
import { wrapText } from './wrap-text.js';

const NAME_COLUMNS = 16;
const VALUE_COLUMNS = 26;

export function summaryText(measurement: Measurement, options: SummaryOptions): string {
  const page = makePage(options);
  const isCameraAsked = measurement.adjustment?.knownGrid === true;
  const sections = [
    headline(measurement, page),
    isCameraAsked
      ? cameraLines(measurement, page)
      : [
          ...quantitiesLines(describeQuantities(measurement, page.units), page),
          ...methodLines(measurement, page),
        ],
    freshTexts(measurement, page.units).flatMap((text) => wrapText(text, page.width)),
    [...photoLines(measurement.photos, page), ...oneMoreLines(measurement, page)],
    pointsLines(measurement, page),
    proposalLines(measurement, page),
    leftAloneLines(measurement, page),
    cautionLines(measurement, page),
    doubtLines(measurement, page),
  ];
  return joinSections(sections);
}

/** The proposals alone: doubts about them, what to do, what to leave alone, what to beware of. */
export function proposalsText(
  measurement: Pick<Measurement, 'proposals'> & Partial<Pick<Measurement, 'findings'>>,
  options: SummaryOptions,
): string {
  const page = makePage(options);
  const sections = [
    listDoubts((measurement.findings ?? []).map(findingText), page),
    proposalLines(measurement, page),
    leftAloneLines(measurement, page),
    cautionLines(measurement, page),
  ];
  return joinSections(sections);
}

function headline(measurement: Measurement, { paint, width }: Page): string[] {
  const { machine, verdicts, adjustment } = measurement;
  const count = (verdict: string) => verdicts.filter((one) => one.verdict === verdict).length;
  const outside = count('outside');
  const open = count('cannot tell');
  const parts = [
    outside === 0 ? 'nothing found outside its limit' : `${outside} outside the limit`,
    ...(open === 0 ? [] : [`${open} cannot be told`]),
  ];
  const result =
    adjustment === undefined
      ? 'the grid was found, but nothing could be measured'
      : verdicts.length === 0
        ? 'measured, no limits judged'
        : parts.join(', ');
  const text =
    adjustment?.knownGrid === true
      ? 'camera: measured by a grid that was taken for true; nothing is told of the machine'
      : `${machine ?? 'machine'}: ${result}`;
  return [
    ...wrapText(text, width).map((line) => paint.bold(line)),
    ...wrapText('values ± expanded uncertainty (k = 2, about 95 %)', width).map(paint.dim),
  ];
}

/** The usual way, and the only one, needs no words. */
function methodLines(measurement: Measurement, { width, paint, units }: Page): string[] {
  const [used, ...others] = measurement.methods ?? [];
  if (used?.method === 'photos' && others.length === 0) return [];
  return methodTexts(measurement, units).flatMap((text) => wrapText(text, width).map(paint.dim));
}

/** A reason that several quantities share is told once, with the first of them. */
function quantitiesLines(texts: readonly QuantityText[], page: Page): string[] {
  const told = new Map<string, string>();
  return texts.flatMap((text) => {
    const key = JSON.stringify([text.reason, text.add]);
    const first = told.get(key);
    if (text.reason === undefined || first === undefined) {
      told.set(key, text.name);
      return quantityLines(text, page);
    }
    return quantityLines({ ...text, reason: `for the same reason as ${first}`, add: [] }, page);
  });
}

function quantityLines(text: QuantityText, page: Page): string[] {
  const { paint, width } = page;
  const value = text.value ?? 'undetermined';
  const weak = text.state === 'weak' ? 'weak: ' : '';
  const head = `${text.name.padEnd(NAME_COLUMNS)}${(weak + value).padEnd(VALUE_COLUMNS)}`;
  const judgement = judgementOf(text, page);
  // Where one line is too short for both, the verdict goes below.
  const isShort = head.length + judgement.plain.length <= width;
  const lines = isShort
    ? [`${paintHead(text, head, paint)}${judgement.painted}`.trimEnd()]
    : [paintHead(text, head, paint).trimEnd(), `${' '.repeat(NAME_COLUMNS)}${judgement.painted}`];
  const below = [
    text.meaning,
    text.reason,
    text.verdictWhy,
    ...text.add.map((one) => `to add: ${one}`),
  ].filter((line) => line !== undefined);
  return [...lines, ...below.flatMap((line) => wrapText(line, width, ' '.repeat(NAME_COLUMNS)))];
}

function paintHead(text: QuantityText, head: string, paint: Page['paint']): string {
  const name = paint.bold(head.slice(0, NAME_COLUMNS));
  const value = head.slice(NAME_COLUMNS);
  return name + (text.state === 'measured' ? value : paint.yellow(value));
}

function judgementOf(text: QuantityText, { paint }: Page): { plain: string; painted: string } {
  if (text.verdict === undefined || text.limit === undefined) return { plain: '', painted: '' };
  // Not by colour alone: capitals for what needs doing.
  const word = { inside: 'inside', outside: 'OUTSIDE', 'cannot tell': 'cannot tell' }[text.verdict];
  const colour = { inside: paint.green, outside: paint.red, 'cannot tell': paint.yellow }[
    text.verdict
  ];
  return { plain: `${word}, ${text.limit}`, painted: `${colour(word)}, ${text.limit}` };
}

function photoLines(photos: readonly PhotoRecord[], { width, paint }: Page): string[] {
  if (photos.length === 0) return [];
  const used = photos.filter((photo) => photo.used);
  const left = photos.filter((photo) => !photo.used);
  return [
    ...wrapText(
      `${used.length} of ${photos.length} ${photos.length === 1 ? 'photo' : 'photos'} used`,
      width,
    ),
    ...used.flatMap((photo) => verdictLines(photo, width)),
    ...left.flatMap((photo) =>
      wrapText(
        `left out ${photo.file}: ${photo.reason ?? 'no reason given'}${photo.code === undefined ? '' : ` [${photo.code}]`}${photo.hint === undefined ? '' : `; ${photo.hint}`}`,
        width,
        '  ',
      ).map((line) => paint.yellow(line)),
    ),
  ];
}

function pointsLines({ points = [], imagePoints }: Measurement, { width }: Page): string[] {
  const sentences = [
    ...(imagePoints === undefined ? [] : [describeImagePoints(imagePoints)]),
    ...points.map(describePoints),
  ];
  return sentences.flatMap((one) => wrapText(one, width));
}

function cameraLines({ camera, adjustment }: Measurement, { paint, width }: Page): string[] {
  return camera.flatMap((one, i) => {
    const { title, terms } = describeCamera(one, i, adjustment?.cameraTerms);
    const column = 2 + Math.max(...terms.map(({ name }) => name.length));
    return [
      ...wrapText(title, width).map(paint.bold),
      ...terms.map(({ name, value }) => `${name.padEnd(column)}${value}`),
    ];
  });
}

function oneMoreLines(measurement: Measurement, { width, units }: Page): string[] {
  return oneMoreTexts(measurement, units).flatMap((text) => wrapText(text, width, '  '));
}

/** Only of photos that could be better; the advice that weighs most. */
function verdictLines({ file, verdict }: PhotoRecord, width: number): string[] {
  const [first] = verdict?.advice ?? [];
  if (verdict === undefined || verdict.state === 'good' || first === undefined) return [];
  return wrapText(`${file} is ${verdict.state}: ${first.text}`, width, '  ');
}

function proposalLines(
  measurement: Pick<Measurement, 'proposals'>,
  { width, paint, units }: Page,
): string[] {
  const changes = measurement.proposals.filter((proposal) => !proposal.leaveAlone);
  if (changes.length === 0) return [];
  return [
    ...wrapText('To do, in this order, measuring again after each:', width).map((line) =>
      paint.bold(line),
    ),
    ...changes.flatMap((proposal, i) => {
      const { title, what, why, more } = describeProposal(proposal, units);
      return [
        ...wrapText(`${title}: ${what}`, width, `${String(i + 1).padStart(2)}. `),
        ...[why, ...more].flatMap((text) => wrapText(text, width, '    ')).map(paint.dim),
      ];
    }),
  ];
}

function leftAloneLines(
  measurement: Pick<Measurement, 'proposals'>,
  { width, paint, units }: Page,
): string[] {
  const left = measurement.proposals.filter((proposal) => proposal.leaveAlone);
  if (left.length === 0) return [];
  const byReason = new Map<string, string[]>();
  for (const proposal of left) {
    const { title, why } = describeProposal(proposal, units);
    // What is not known well enough has its reason beside the quantity, further up.
    const short = /^(undetermined|only weakly known), so nothing is proposed/.exec(why)?.[0] ?? why;
    byReason.set(short, [...(byReason.get(short) ?? []), title]);
  }
  return [
    paint.bold('Leave alone:'),
    ...[...byReason].flatMap(([why, titles]) =>
      wrapText(`${titles.join(', ')}: ${why}`, width, '  - '),
    ),
  ];
}

function cautionLines(
  measurement: Pick<Measurement, 'proposals'>,
  { width, paint }: Page,
): string[] {
  const list = cautions(measurement.proposals);
  if (list.length === 0) return [];
  return [
    paint.bold(paint.red('Safety:')),
    ...list.flatMap((caution) => wrapText(caution, width, '  ! ')),
  ];
}

function doubtLines(measurement: Measurement, page: Page): string[] {
  const doubts = [
    ...measurement.findings.map((finding) =>
      finding.where === undefined
        ? findingText(finding)
        : `${finding.where}: ${findingText(finding)}`,
    ),
    ...otherWarnings(measurement),
  ];
  return listDoubts(doubts, page);
}
