/** Where the uncertainty of each quantity comes from, as bars with their numbers. */

import { MACHINE_KEYS } from '../../shared/quantity-keys.js';
import type { Measurement, Quantity } from '../../shared/schemas/measurement.js';
import { quantitiesByKey } from '../quantity/index.js';
import { type Markup, markup } from './escape-markup.js';
import { QUANTITY_NAME } from './quantity-words.js';

const SOURCES = [
  [
    'camera',
    'camera and board',
    'what is believed of the camera (of a turned board: of how smoothly pictures bend), of flatness and of shapes',
  ],
  ['marks', 'marks', 'wander of the marks on the board'],
  ['photos', 'photos', 'reading the marks in the photos'],
  ['evidence', 'evidence', 'taped lengths, rules, squares, nodes measured otherwise'],
  ['other', 'else', 'creep while marking, temperature, scatter of pairs of photos'],
] as const;

/** Undefined where no quantity says it. */
export function shareBars(measurement: Measurement): Markup | undefined {
  const quantities = quantitiesByKey(measurement);
  const rows = MACHINE_KEYS.flatMap((key) => {
    const share = shareOf(quantities[key]);
    return share === undefined ? [] : [{ name: QUANTITY_NAME[key], share }];
  });
  if (rows.length === 0) return undefined;
  const percent = (part: number) => `${Math.round(100 * part)} %`;
  return markup`<div class="scroll" tabindex="0" role="region" aria-label="Where the uncertainty comes from"><table class="shares"><thead><tr><th scope="col">U of</th>${SOURCES.map(([, name]) => markup`<th scope="col">${name}</th>`)}<th scope="col">Together</th></tr></thead><tbody>${rows.map(
    ({ name, share }) =>
      markup`<tr><th scope="row">${name}</th>${SOURCES.map(([key]) => markup`<td class="number">${percent(share[key])}</td>`)}<td><svg class="share" viewBox="0 0 100 12" preserveAspectRatio="none" aria-hidden="true">${barParts(share)}</svg></td></tr>
`,
  )}</tbody></table></div>
<p>Shares of the variance (u²). ${SOURCES.map(([, name, words]) => `${name}: ${words}`).join('; ')}. The bar has them from left to right in the order of the columns.</p>`;
}

type Share = Readonly<Record<(typeof SOURCES)[number][0], number>>;

function barParts(share: Share): Markup[] {
  let from = 0;
  return SOURCES.map(([key], k) => {
    const width = 100 * share[key];
    const part = markup`<rect class="source-${k}" x="${from.toFixed(2)}" width="${width.toFixed(2)}" y="0" height="12"/>`;
    from += width;
    return part;
  });
}

function shareOf(quantity: Quantity): Share | undefined {
  if (quantity.state === 'undetermined' || quantity.share === undefined) return undefined;
  const { camera, marks, photos, evidence } = quantity.share;
  const other = Math.max(0, 1 - camera - marks - photos - evidence);
  return { camera, marks, photos, evidence, other };
}
