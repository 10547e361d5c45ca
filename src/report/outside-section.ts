/** What is out of tolerance, line by line: the text beside the pictures that show it. */

import type { Measurement } from '../../shared/schemas/measurement.js';
import { type Markup, markup } from './escape-markup.js';
import { list } from './markup-list.js';
import { type OutsideKind, type OutsideMark, outsideMarks } from './outside-marks.js';
import { QUANTITY_NAME } from './quantity-words.js';
import { showDifference, showPlace, showValue, type Units } from './show-number.js';

const SHAPE: Record<OutsideKind, string> = {
  'lost motion': 'square',
  place: 'triangle',
  bend: 'diamond',
};

/** Undefined where nothing was measured. */
export function outsideSection(measurement: Measurement, units: Units): Markup | undefined {
  if (measurement.adjustment === undefined) return undefined;
  const { isJudged, marks, elsewhere } = outsideMarks(measurement);
  if (!isJudged) {
    return markup`<section><h2>Out of tolerance</h2>
<p>No limit is stated, so that nothing is judged. Write <code>limits</code> in the machine file.</p></section>`;
  }
  const hasPictures = measurement.photos.some(({ used }) => used);
  const whole = elsewhere.map((what) => {
    const shown = what === 'squareness' && hasPictures ? '; the pictures say so at the origin' : '';
    return `${QUANTITY_NAME[what]}: ${ELSEWHERE[keyOf(what)]}${shown}`;
  });
  return markup`<section><h2>Out of tolerance</h2>
${
  marks.length + whole.length === 0
    ? markup`<p>Nothing is told to be outside the limits: no quantity, no line and no place.</p>`
    : undefined
}${list([...groupTexts(marks, hasPictures), ...whole])}
${marks.length === 0 ? undefined : markTable(marks, units)}</section>`;
}

const ELSEWHERE = {
  squareness: 'it concerns every crossing, and none by itself',
  scale: 'no line by itself is told to lie outside',
  lostMotion: 'no line by itself is told to be outside',
  straightness: 'no place by itself is told to be outside',
} as const;

function keyOf(what: string): keyof typeof ELSEWHERE {
  return what.replace(/\..*/, '') as keyof typeof ELSEWHERE;
}

const WHAT: Record<OutsideKind, (name: string, across: string) => string> = {
  'lost motion': (name) => `lost motion of lines at constant ${name}`,
  place: (name) => `place of lines at constant ${name}, from the commanded zero`,
  bend: (name, across) => `bend of ${name} motion, toward +${across}`,
};

function groupTexts(marks: readonly OutsideMark[], hasPictures: boolean): string[] {
  const groups = new Map<string, OutsideMark[]>();
  for (const mark of marks) {
    const key = `${mark.kind} ${mark.axis}`;
    groups.set(key, [...(groups.get(key) ?? []), mark]);
  }
  return [...groups.values()].map((own) => {
    const [first, last] = [own[0]!, own[own.length - 1]!];
    const numbers = own.length === 1 ? String(first.number) : `${first.number} to ${last.number}`;
    return `${whatText(first)}: ${own.length} outside (${SHAPE[first.kind]} ${numbers}${hasPictures ? ' in the pictures' : ''})`;
  });
}

function whatText({ kind, axis }: OutsideMark): string {
  const [name, across] = axis === 'x' ? (['X', 'Y'] as const) : (['Y', 'X'] as const);
  return WHAT[kind](name, across);
}

function markTable(marks: readonly OutsideMark[], units: Units): Markup {
  return markup`<details><summary>Line by line</summary><div class="scroll" tabindex="0" role="region" aria-label="Out of tolerance, line by line"><table><thead><tr><th scope="col">No.</th><th scope="col">What</th><th scope="col">At</th><th scope="col">Value</th><th scope="col">Allowed</th></tr></thead><tbody>${marks.map(
    (mark) =>
      markup`<tr><th scope="row">${SHAPE[mark.kind]} ${mark.number}</th><td>${whatText(mark)}</td><td class="number">${mark.axis.toUpperCase()} ${showPlace(mark.atMm, units)}</td><td class="number">${showDifference('length', mark.valueMm, mark.UMm, units).withU}</td><td class="number">${allowedText(mark, units)}</td></tr>
`,
  )}</tbody></table></div></details>`;
}

/** To the digit of the value beside it. */
function allowedText({ allowedMm, UMm }: OutsideMark, units: Units): string {
  return `± ${showValue('length', allowedMm, Math.min(UMm, allowedMm || UMm), units).size}`;
}
