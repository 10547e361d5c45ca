/** Machine or board, in the words of a workshop. */

import type { DriftMove, DriftSeen, DriftTodo, MachineDrift } from '../../shared/schemas/drift.js';
import { LEAST_HUMIDITY } from '../drift/index.js';
import { EXPLANATION } from './explanation-words.js';
import { localDay } from './history-text.js';
import { plainText } from './plain-text.js';
import { MEASURE_OF, QUANTITY_NAME } from './quantity-words.js';
import { shownNumber, showValue, type Units } from './show-number.js';
import type { Page } from './terminal-page.js';
import { wrapText } from './wrap-text.js';

const TODO: Record<DriftTodo, string> = {
  'fresh ladder':
    'to decide: mark a short fresh ladder beside the old lines (gantrue plan --fresh-check) and photograph both in one picture. Fresh marks that show the scale of the first measurement: the board has moved; that show the newest scale: the machine has',
  'state marks':
    'say of each measurement whether its marks were fresh (log add --marks, or the evidence file’s marked and taken dates), and note humidity',
  'leave steps':
    'leave steps per unit alone: mark fresh lines before scale is judged, and hold or seal the board',
  'mend machine':
    'look at what carries and drives that axis (gantrue propose); after the work note it: gantrue log event "…"',
  'look for play':
    'values that jump about: look for loose screws, belts and pinions, and whether photos and tape were the same',
  'measure more': 'three measurements are the least for a trend, eight make it fairly sure',
};

export function explanationLines({ explanation }: MachineDrift, page: Page): string[] {
  const { verdict, seen, todo } = explanation;
  const { paint, width, units } = page;
  const told = seen.flatMap((one) => seenWords(one, units));
  return [
    ...wrapText(`Machine or board: ${EXPLANATION[verdict]}`, width).map((line) => paint.bold(line)),
    ...told.flatMap((text) => wrapText(text, width, '  ')),
    ...todo.flatMap((one) => wrapText(TODO[one], width, '  → ')),
  ];
}

function seenWords(
  { shows, board, marks, since, moves, humidity }: DriftSeen,
  units: Units,
): string[] {
  if (moves.length === 0) return [];
  const day = localDay(new Date(since));
  const who =
    shows === 'board'
      ? `old marks${board === undefined ? '' : ` of board ${plainText(board)}`}, which no machine can change,`
      : marks === 'fresh'
        ? 'fresh marks'
        : 'marks of unknown age';
  const moved = moves.filter(({ moved: one }) => one);
  const still = moves.filter(({ moved: one }) => !one);
  const amount = ({ what, change, U }: DriftMove) =>
    `${QUANTITY_NAME[what]} by ${change > 0 ? '+' : ''}${showValue(MEASURE_OF[what], change, U, units).withU}`;
  const changed = `have changed since ${day}: ${moved.map(amount).join(', ')}`;
  const unchanged = `since ${day}: ${still.map(amount).join(', ')}`;
  const text =
    moved.length === 0
      ? `have not changed beyond noise ${unchanged}`
      : still.length === 0
        ? changed
        : `${changed}; not beyond noise ${still.map(amount).join(', ')}`;
  return [`${who} ${text}`, ...airWords(humidity, units)];
}

function airWords(humidity: DriftSeen['humidity'], units: Units): string[] {
  if (humidity === undefined || Math.abs(humidity.change) < LEAST_HUMIDITY) return [];
  const { change, expected, fits } = humidity;
  const show = (value: number) => {
    const { value: shown } = shownNumber('slope', value, units);
    return `${shown > 0 ? '+' : ''}${shown.toPrecision(2)}`.replace('-', '−');
  };
  const { unit } = shownNumber('slope', 0, units);
  const way = change > 0 ? 'rose' : 'fell';
  return [
    `the humidity ${way} by ${Math.abs(change).toFixed(0)} points meanwhile: that changes MDF by ${show(expected.low)} to ${show(expected.high)} ${unit}${fits ? ', which fits' : ''}`,
  ];
}
