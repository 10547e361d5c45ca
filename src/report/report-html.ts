/** The report of a measurement. */

import { COVERAGE_FACTOR, type Measurement } from '../../shared/schemas/measurement.js';
import { cautions } from '../correction/index.js';
import { describeCamera } from './describe-camera.js';
import { describeImagePoints, describePoints } from './describe-points.js';
import { describeProposal } from './describe-proposals.js';
import { describeQuantities, type QuantityText } from './describe-quantity.js';
import { driftSection, type ReportDrift } from './drift-charts.js';
import { type Markup, markup } from './escape-markup.js';
import { fixtureSection, type ReportFixture } from './fixture-html.js';
import { freshTexts } from './fresh-text.js';
import { list } from './markup-list.js';
import { methodTexts } from './method-text.js';
import { otherWarnings } from './other-warnings.js';
import { outsideSection } from './outside-section.js';
import { aboutSection, assumptionSection, reproduceSection } from './report-about.js';
import { figureSections } from './report-figures.js';
import { reportPage } from './report-page.js';
import { photoSection, type ReportPicture } from './report-photos.js';
import { fixed, showValue, type Units } from './show-number.js';
import { verdictSentence } from './verdict-sentence.js';

/** What may stand in the report beside the measurement itself. */
export interface ReportAdditions {
  /** What a history tells of the machine. */
  readonly drift?: ReportDrift;
  /** Fixtures that were looked at on this machine. */
  readonly fixtures?: readonly ReportFixture[];
}

/** @param overlays pictures to show; photos without one are listed all the same. */
export function reportHtml(
  measurement: Measurement,
  overlays: readonly ReportPicture[],
  units: Units = 'mm',
  { drift, fixtures = [] }: ReportAdditions = {},
): string {
  const isCameraAsked = measurement.adjustment?.knownGrid === true;
  const about = isCameraAsked ? 'Camera' : (measurement.machine ?? 'Machine');
  const title = `${about}, ${measurement.measuredAt.slice(0, 10)}`;
  const body = [
    isCameraAsked ? cameraSection(measurement) : summarySection(measurement, units),
    todoSection(measurement, units),
    freshSection(measurement, units),
    ...(isCameraAsked ? [] : figureSections(measurement, units)),
    drift === undefined ? undefined : driftSection(drift, units),
    ...fixtures.map((fixture, i) => fixtureSection(fixture, i, units)),
    evidenceSection(measurement, units),
    doubtSection(measurement),
    aboutSection(measurement),
    assumptionSection(measurement),
    isCameraAsked ? undefined : outsideSection(measurement, units),
    photoSection(measurement, overlays, units),
    pointsSection(measurement),
    isCameraAsked ? undefined : cameraSection(measurement),
    adjustmentSection(measurement),
    reproduceSection(measurement),
  ];
  const { tool, measuredAt } = measurement;
  return reportPage({ title, verdict: verdictSentence(measurement), body, tool, measuredAt });
}

function summarySection(measurement: Measurement, units: Units): Markup {
  return markup`<section><h2>What was measured</h2>
<div class="scroll" tabindex="0" role="region" aria-label="Quantities"><table class="quantities" role="table"><thead role="rowgroup"><tr role="row"><th scope="col" role="columnheader">Quantity</th><th scope="col" role="columnheader">Value</th><th scope="col" role="columnheader">Verdict</th><th scope="col" role="columnheader">Meaning</th></tr></thead>
<tbody role="rowgroup">${describeQuantities(measurement, units).map(quantityRow)}</tbody></table></div></section>`;
}

function quantityRow(text: QuantityText): Markup {
  const word = text.verdict === 'outside' ? 'OUTSIDE' : text.verdict;
  const verdict =
    text.verdict === undefined
      ? markup``
      : markup`<strong class="${text.verdict.replace(' ', '-')}">${word}</strong><br>${text.limit}`;
  const lines = [text.meaning, text.reason, text.verdictWhy].filter((line) => line !== undefined);
  const weak = text.state === 'weak' ? markup`<strong class="cannot-tell">weak:</strong> ` : '';
  return markup`<tr role="row"><th scope="row" role="rowheader">${text.name}</th><td class="number" role="cell">${weak}${text.value ?? 'undetermined'}</td><td role="cell">${verdict}</td><td role="cell">${lines.map((line) => markup`<p>${line}</p>`)}${list(text.add.map((one) => `to add: ${one}`))}</td></tr>
`;
}

function todoSection(measurement: Measurement, units: Units): Markup | undefined {
  const { proposals } = measurement;
  if (proposals.length === 0) return undefined;
  const changes = proposals.filter((proposal) => !proposal.leaveAlone);
  const left = proposals.filter((proposal) => proposal.leaveAlone);
  const warnings = cautions(proposals);
  return markup`<section><h2>What to do</h2>
${warnings.length === 0 ? undefined : markup`<div class="safety" role="note"><h3>Safety</h3>${list(warnings)}</div>`}
${
  changes.length === 0
    ? markup`<p>${nothingToDo(measurement)}</p>`
    : markup`<p>In this order, measuring again after each:</p><ol>${changes.map((proposal) => {
        const { title, what, why, more } = describeProposal(proposal, units);
        return markup`<li><strong>${title}: ${what}</strong>${[why, ...more].map((text) => markup`<p>${text}</p>`)}</li>`;
      })}</ol>`
}
${
  left.length === 0
    ? undefined
    : markup`<h3>Leave alone</h3><ul>${left.map((proposal) => {
        const { title, why } = describeProposal(proposal, units);
        return markup`<li>${title}: ${why}</li>`;
      })}</ul>`
}</section>`;
}

/** Good news only where everything that has a limit is inside it. */
function nothingToDo({ verdicts }: Measurement): string {
  return verdicts.length > 0 && verdicts.every(({ verdict }) => verdict === 'inside')
    ? 'Nothing: everything lies within its limit.'
    : 'Nothing can be proposed yet: what is not known, or not well enough, has its reason below.';
}

function freshSection(measurement: Measurement, units: Units): Markup | undefined {
  const texts = freshTexts(measurement, units);
  if (texts.length === 0) return undefined;
  return markup`<section><h2>Fresh marks against old ones</h2>${list(texts)}</section>`;
}

function doubtSection(measurement: Measurement): Markup | undefined {
  const { findings } = measurement;
  const warnings = otherWarnings(measurement);
  if (findings.length + warnings.length === 0) return undefined;
  return markup`<section><h2>Doubts</h2><ul>${findings.map(
    ({ code, message, hint, where }) =>
      markup`<li>${where === undefined ? '' : `${where}: `}${message} <code>${code}</code>${hint === undefined ? '' : `; ${hint}`}</li>`,
  )}${warnings.map((warning) => markup`<li>${warning}</li>`)}</ul></section>`;
}

function pointsSection({ points = [], imagePoints }: Measurement): Markup | undefined {
  if (imagePoints !== undefined) {
    return markup`<section><h2>Image points</h2>${list([describeImagePoints(imagePoints)])}</section>`;
  }
  if (points.length === 0) return undefined;
  return markup`<section><h2>Nodes measured on the board</h2>${list(points.map(describePoints))}</section>`;
}

function evidenceSection(measurement: Measurement, units: Units): Markup | undefined {
  const { evidence } = measurement;
  const methods = methodTexts(measurement, units);
  if (evidence.length === 0 && methods.length === 0) return undefined;
  const show = (value: number, u: number, unit: string) =>
    showValue(unit === 'mm' ? 'length' : 'slope', value, COVERAGE_FACTOR * u, units);
  const table = markup`<p>E<sub>n</sub> above 1: the piece disagrees with all the rest.</p>
<div class="scroll" tabindex="0" role="region" aria-label="Evidence"><table><thead><tr><th scope="col">What</th><th scope="col">Given</th><th scope="col">Adjusted</th><th scope="col">E<sub>n</sub></th></tr></thead><tbody>${evidence.map(
    ({ what, given, adjusted, unit, u, En }) =>
      markup`<tr><th scope="row">${what}</th><td class="number">${show(given, u, unit).withU}</td><td class="number">${adjusted < 0 ? '−' : ''}${show(adjusted, u, unit).size}</td><td class="number">${En === undefined ? 'no check' : fixed(En, 2)}</td></tr>
`,
  )}</tbody></table></div>`;
  return markup`<section><h2>Evidence</h2>
${methods.map((text) => markup`<p>${text[0]!.toUpperCase() + text.slice(1)}.</p>`)}
${evidence.length === 0 ? undefined : table}</section>`;
}

function cameraSection({ camera, adjustment }: Measurement): Markup | undefined {
  if (camera.length === 0) return undefined;
  return markup`<section><h2>Camera</h2>${camera.map((one, i) => {
    const { title, terms } = describeCamera(one, i, adjustment?.cameraTerms);
    return markup`<h3>${title}</h3>
<div class="scroll" tabindex="0" role="region" aria-label="${title}"><table><thead><tr><th scope="col">Term</th><th scope="col">Value ± U</th></tr></thead><tbody>${terms.map(
      ({ name, value }) =>
        markup`<tr><th scope="row">${name}</th><td class="number">${value}</td></tr>
`,
    )}</tbody></table></div>`;
  })}</section>`;
}

function adjustmentSection({ adjustment }: Measurement): Markup | undefined {
  if (adjustment === undefined) return undefined;
  const rows: [string, string][] = [
    ['observations', String(adjustment.observations)],
    ['unknowns', String(adjustment.unknowns)],
    ['redundancy', fixed(adjustment.redundancy, 0)],
    ['variance factor', fixed(adjustment.varianceFactor, 3)],
    ...(adjustment.sigmaPixel === undefined
      ? []
      : ([['uncertainty of a mark in the picture, px', fixed(adjustment.sigmaPixel, 3)]] as [
          string,
          string,
        ][])),
    adjustment.knownGrid === true
      ? ['marks', 'taken to lie where they were commanded']
      : ['wander of a mark on the board, mm', fixed(adjustment.sigmaMark, 4)],
    ...(adjustment.cameraTerms === undefined
      ? []
      : ([['camera terms adjusted, without priors', adjustment.cameraTerms.join(', ')]] as [
          string,
          string,
        ][])),
    ['marks left out as outliers', String(adjustment.outliers)],
    ['iterations', String(adjustment.iterations)],
    ...Object.entries(adjustment.squarenessCorrelation ?? {}).map(
      ([term, r]) => [`correlation of squareness with ${term}`, fixed(r, 3)] as [string, string],
    ),
  ];
  return markup`<section><h2>Adjustment</h2><div class="scroll" tabindex="0" role="region" aria-label="Adjustment"><table><tbody>${rows.map(
    ([name, value]) => markup`<tr><th scope="row">${name}</th><td class="number">${value}</td></tr>
`,
  )}</tbody></table></div></section>`;
}
