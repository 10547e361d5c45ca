/** The parts of a report on a fixture, in the order in which people ask: what, what to do, where, each feature, why. */

import { MM_PER_INCH } from '../../shared/mm-per-inch.js';
import type {
  FixtureFeatureRecord,
  FixturePosition,
  FixtureResult,
} from '../../shared/schemas/fixture.js';
import { COVERAGE_FACTOR } from '../../shared/schemas/measurement.js';
import { type Markup, markup } from './escape-markup.js';
import { fixtureAbout, fixtureReproduce } from './fixture-about.js';
import { fixtureAdditions } from './fixture-additions.js';
import { fixtureMap } from './fixture-map.js';
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
} from './fixture-words.js';
import { list } from './markup-list.js';
import { pictureFigure, type ReportPicture } from './report-photos.js';
import { fixed, showValue, type Units } from './show-number.js';

export interface ReportPart {
  readonly title: string;
  readonly body: Markup;
}

/** @param key tells the pictures of one fixture from those of another in the same page. */
export function fixtureParts(
  result: FixtureResult,
  pictures: readonly ReportPicture[],
  units: Units,
  key: string,
): ReportPart[] {
  return [
    { title: 'Which it is', body: causePart(result, units) },
    { title: 'What to do', body: todoPart(result, units) },
    { title: 'Where it sits', body: placementPart(result, units) },
    { title: 'Out of tolerance', body: outsidePart(result, units) },
    { title: 'Features', body: featurePart(result, units) },
    { title: 'Undetermined, and what to add', body: additionPart(result) },
    { title: 'Doubts', body: doubtPart(result) },
    { title: 'Photos', body: photoPart(result, pictures, key) },
    { title: 'About this fixture', body: fixtureAbout(result, units) },
    { title: 'To get it again', body: fixtureReproduce(result) },
  ].flatMap(({ title, body }) => (body === undefined ? [] : [{ title, body }]));
}

function causePart(result: FixtureResult, units: Units): Markup {
  const causes = shownCauses(result);
  const table = markup`<p>What was tried, by its share of belief. χ² well above its degrees of freedom: such an explanation does not fit.</p>
<div class="scroll" tabindex="0" role="region" aria-label="Explanations that were tried"><table class="features"><thead><tr><th scope="col">Place</th><th scope="col">Explanation</th><th scope="col">Belief</th><th scope="col">χ²</th><th scope="col">Degrees of freedom</th></tr></thead><tbody>${causes.map(
    (one) =>
      markup`<tr><td>${one.placement}</td><th scope="row">${causeName(one)}</th><td class="number">${shareText(one.share)}</td><td class="number">${fixed(one.chiSquared, 1)}</td><td class="number">${one.freedom}</td></tr>
`,
  )}</tbody></table></div>`;
  return markup`<p>${fixtureHeadline(result)}.</p>
${causeTexts(result, units).map((text) => markup`<p>${text}</p>`)}
${causes.length === 0 ? undefined : table}`;
}

function todoPart(result: FixtureResult, units: Units): Markup | undefined {
  const { correction, cautions } = result;
  if (correction === undefined) return undefined;
  const culprit = culpritText(result, units);
  const ofOne = culprit === undefined ? undefined : markup`<p>${culprit}.</p>`;
  const safety =
    cautions.length === 0
      ? undefined
      : markup`<div class="safety" role="note"><h3>Caution</h3>${list(cautions)}</div>`;
  if (correction.leaveAlone) return markup`${safety}<p>Leave it: ${correction.why}.</p>${ofOne}`;
  return markup`${safety}${ofOne}<p>${culprit === undefined ? 'One of these' : 'The whole fixture, one of these'}:</p>${list(correctionTexts(correction, units))}`;
}

function placementPart(result: FixtureResult, units: Units): Markup | undefined {
  const { inMachine, onBoard } = result;
  if (inMachine === undefined) return undefined;
  const rows = [
    { where: 'in machine coordinates', one: inMachine },
    ...(onBoard === undefined
      ? []
      : [{ where: `on the board, in ${boardMillimetres(result)}`, one: onBoard }]),
  ].map(({ where, one }) => ({ where, ...placementText(one, units) }));
  return markup`<div class="scroll" tabindex="0" role="region" aria-label="Where it sits"><table class="features"><thead><tr><th scope="col">Seen</th><th scope="col">Offset</th><th scope="col">Turned</th></tr></thead><tbody>${rows.map(
    ({ where, offset, turn, widened }) =>
      markup`<tr><th scope="row">${where}</th><td>${offset}</td><td>${turn}${widened === undefined ? '' : `; ${widened}`}</td></tr>
`,
  )}</tbody></table></div>`;
}

/** By name, so that it is told without the map. */
function outsidePart({ features }: FixtureResult, units: Units): Markup {
  if (features.every(({ tolerance }) => tolerance === undefined)) {
    return markup`<p>The layout states no tolerance, so that nothing is judged. Write <code>tolerance</code> in it, for all features or for each.</p>`;
  }
  const outside = features.flatMap((feature, i) => {
    const left = leftOf(feature);
    if (left?.verdict !== 'outside') return [];
    const { deviation, dx, dy } = left;
    const off = (value: number) => signedLength(value, units);
    return [
      `${i + 1} ${feature.name}: ${showValue('length', deviation.value, deviation.U, units).withU} left of ${showTolerance(feature.tolerance!, units)} allowed (X ${off(dx)}, Y ${off(dy)} ${units})`,
    ];
  });
  return outside.length === 0
    ? markup`<p>No feature was found outside its tolerance.</p>`
    : markup`${list(outside)}`;
}

function featurePart(result: FixtureResult, units: Units): Markup {
  const placed = fixtureMap(result, 'as it lies', units);
  const left = result.inMachine === undefined ? undefined : fixtureMap(result, 'left', units);
  return markup`<p>Seen from above. Rings: where the layout has the features; arrows: how far off they are. The tip is a disc where a feature is inside its tolerance or has none, a square where it is outside, a hollow diamond where it cannot be told; a cross stands where one was not found. Numbers as in the table.</p>
${placed?.chart}
${left?.chart}${left === undefined ? undefined : markup`<p>Wide rings: the tolerance zones, to the same scale as the arrows.</p>`}
<p>Off by: found minus nominal in machine coordinates. Left: the position deviation 2√(dx² + dy²) that remains after the best offset and turn (ISO 1101); as built, in ${boardMillimetres(result)}: the fixture’s own shape.</p>
<div class="scroll" tabindex="0" role="region" aria-label="Features"><table class="features"><thead><tr><th scope="col">Feature</th><th scope="col">Left, as used</th><th scope="col">Off by, ${units}</th><th scope="col">Nominal, ${units}</th><th scope="col">Found, ${units}</th><th scope="col">As built</th></tr></thead><tbody>${result.features.map((feature, i) => featureRow(feature, i + 1, units))}</tbody></table></div>`;
}

function featureRow(feature: FixtureFeatureRecord, number: number, units: Units): Markup {
  const { name, kind, role, nominal, state, reason, machine, asPlaced, asBuilt } = feature;
  const head = markup`<th scope="row">${number} ${name}<br><small>${kind}${role === undefined ? '' : `, ${role}`}</small></th>`;
  const where = markup`<td class="number">${pair(showNominal(nominal.x, units), showNominal(nominal.y, units))}</td>`;
  const left = leftOf(feature);
  if (state !== 'found' || machine === undefined || asPlaced === undefined || left === undefined) {
    return markup`<tr>${head}<td colspan="2"><strong class="cannot-tell">${state}</strong>: ${reason ?? 'nothing more is known'}</td>${where}<td></td><td></td></tr>
`;
  }
  const place = (value: number, u: number) =>
    showValue('length', value, COVERAGE_FACTOR * u, units).withU.replace(` ${units}`, '');
  return markup`<tr>${head}<td class="number">${judgedDeviation(left, units, feature.tolerance)}</td><td class="number">${pair(signedLength(asPlaced.dx, units), signedLength(asPlaced.dy, units))}</td>${where}<td class="number">${pair(place(machine.x, machine.ux), place(machine.y, machine.uy))}</td><td class="number">${asBuilt === undefined ? '' : judgedDeviation(asBuilt, units)}</td></tr>
`;
}

function judgedDeviation(
  { deviation, verdict }: FixturePosition,
  units: Units,
  toleranceMm?: number,
): Markup {
  const word =
    verdict === undefined
      ? markup`no tolerance`
      : markup`<strong class="${verdict.replace(' ', '-')}">${verdict === 'outside' ? 'OUTSIDE' : verdict}</strong>`;
  const of = toleranceMm === undefined ? '' : ` ${showTolerance(toleranceMm, units)}`;
  return markup`${showValue('length', deviation.value, deviation.U, units).withU}<br>${word}${of}`;
}

function pair(x: string, y: string): Markup {
  return markup`X ${x}<br>Y ${y}`;
}

/** As the layout has it: no digit that it does not have. */
function showNominal(valueMm: number, units: Units): string {
  const [value, decimals] = units === 'mm' ? [valueMm, 3] : [valueMm / MM_PER_INCH, 4];
  return fixed(value, decimals).replace(/\.?0+$/, '');
}

function additionPart(result: FixtureResult): Markup | undefined {
  return list(fixtureAdditions(result));
}

function doubtPart({ findings }: FixtureResult): Markup | undefined {
  if (findings.length === 0) return undefined;
  return markup`<ul>${findings.map(
    ({ code, message, hint, where }) =>
      markup`<li>${where === undefined ? '' : `${where}: `}${message} <code>${code}</code>${hint === undefined ? '' : `; ${hint}`}</li>`,
  )}</ul>`;
}

function photoPart(
  { photos, features }: FixtureResult,
  pictures: readonly ReportPicture[],
  key: string,
): Markup | undefined {
  if (photos.length === 0) return undefined;
  const seenIn = (file: string) => features.filter((one) => one.photos?.includes(file)).length;
  return markup`<div class="scroll" tabindex="0" role="region" aria-label="Photos of the fixture"><table><thead><tr><th scope="col">File</th><th scope="col">Used</th><th scope="col">Features seen</th></tr></thead><tbody>${photos.map(
    ({ file, used, reason, code }) =>
      markup`<tr><th scope="row">${file}</th><td>${used ? 'yes' : markup`<strong>no</strong>: ${reason}${code === undefined ? undefined : markup` <code>${code}</code>`}`}</td><td class="number">${used ? `${seenIn(file)} of ${features.length}` : ''}</td></tr>
`,
  )}</tbody></table></div>
${pictures.map((picture, k) =>
  pictureFigure(picture, `zoom-${key}-${k}`, {
    alt: `Photo ${picture.photo} with each feature where the layout has it and where it was found`,
    caption: `${picture.photo}: dashed where the layout has a feature, full where it was found; the word beside its number says whether it is out of tolerance`,
  }),
)}`;
}
