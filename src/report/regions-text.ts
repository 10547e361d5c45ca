/** Places of one bed in the terminal: each quantity place by place, and whether they agree. */

import type { RegionQuantity, Regions } from '../../shared/schemas/comparison.js';
import { MEASURE_OF, QUANTITY_NAME } from './quantity-words.js';
import { showValue } from './show-number.js';
import { joinSections, makePage, type Page, type SummaryOptions } from './terminal-page.js';
import { wrapText } from './wrap-text.js';

export function regionsText(
  { measurements, quantities }: Regions,
  options: SummaryOptions,
): string {
  const page = makePage(options);
  const { width, paint } = page;
  const differing = quantities.filter(({ verdict }) => verdict === 'differs from place to place');
  const machine = measurements.find((one) => one.machine !== undefined)?.machine ?? 'machine';
  const told =
    differing.length === 0
      ? 'nothing differs from place to place beyond its uncertainty'
      : `${differing.map(({ what }) => QUANTITY_NAME[what]).join(', ')} ${differing.length === 1 ? 'differs' : 'differ'} from place to place`;
  return joinSections([
    [
      ...wrapText(`${machine}: ${told}`, width).map(paint.bold),
      ...measurements.flatMap(({ file, measuredAt }, i) =>
        wrapText(`${file} (${measuredAt.slice(0, 10)})`, width, `${String(i + 1).padStart(2)}  `),
      ),
    ],
    ...quantities
      .filter(({ values }) => values.some(({ state }) => state !== 'undetermined'))
      .map((quantity) => quantityLines(quantity, page)),
  ]);
}

function quantityLines(
  { what, values, mean, p, verdict }: RegionQuantity,
  { width, units, paint }: Page,
): string[] {
  const show = (value: number, U: number) => showValue(MEASURE_OF[what], value, U, units).withU;
  const word = verdict === 'differs from place to place' ? 'DIFFERS from place to place' : verdict;
  const chance = p === undefined ? '' : ` (chance ${p < 0.001 ? 'below 0.001' : p.toFixed(3)})`;
  const middle =
    mean === undefined ? '' : `; mean, were they independent, ${show(mean.value, mean.U)}`;
  return [
    ...wrapText(`${QUANTITY_NAME[what]}: ${word}${chance}${middle}`, width).map(paint.bold),
    ...values.map((value, i) => {
      const number = `${String(i + 1).padStart(2)}  `;
      if (value.state === 'undetermined') return `${number}undetermined`;
      return `${number}${value.state === 'weak' ? 'weak: ' : ''}${show(value.value, value.U)}`;
    }),
  ];
}
