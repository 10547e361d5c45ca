/** The report: one file that opens without a network, for the screen and for paper. */

import { COVERAGE_FACTOR, type Measurement } from '../../shared/schemas/measurement.js';
import { cautions } from '../correction/index.js';
import { positioningAccuracy } from '../machine/index.js';
import { describeCamera } from './describe-camera.js';
import { describeImagePoints, describePoints } from './describe-points.js';
import { describeProposal } from './describe-proposals.js';
import { describeQuantities, type QuantityText } from './describe-quantity.js';
import { deviationCharts } from './deviation-chart.js';
import { Markup, markup } from './escape-markup.js';
import { freshTexts } from './fresh-text.js';
import { methodTexts } from './method-text.js';
import { oneMoreTexts } from './one-more-text.js';
import { otherWarnings } from './other-warnings.js';
import { REPORT_STYLE } from './report-style.js';
import { fixed, showPlace, showValue, type Units } from './show-number.js';

/** A picture that goes into the report itself. */
export interface ReportPicture {
  /** The photo's file as the measurement names it. */
  readonly photo: string;
  readonly jpeg: Uint8Array;
}

/** First line of every report: tells our own file from others. */
export const REPORT_MARK = '<!-- gantrue report -->';

/** @param overlays pictures to show; photos without one are listed all the same. */
export function reportHtml(
  measurement: Measurement,
  overlays: readonly ReportPicture[],
  units: Units = 'mm',
): string {
  const isCameraAsked = measurement.adjustment?.knownGrid === true;
  const about = isCameraAsked ? 'Camera' : (measurement.machine ?? 'Machine');
  const title = `${about}, ${measurement.measuredAt.slice(0, 10)}`;
  const body = [
    isCameraAsked ? cameraSection(measurement) : summarySection(measurement, units),
    todoSection(measurement, units),
    doubtSection(measurement),
    freshSection(measurement, units),
    photoSection(measurement, overlays, units),
    pointsSection(measurement),
    deviationSection(measurement, units),
    evidenceSection(measurement, units),
    isCameraAsked ? undefined : cameraSection(measurement),
    adjustmentSection(measurement),
  ];
  const { name, version } = measurement.tool;
  return markup`<!DOCTYPE html>
${new Markup(REPORT_MARK)}
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; img-src data:; style-src 'unsafe-inline'">
<title>${title}</title>
<style>${new Markup(REPORT_STYLE)}</style>
</head>
<body>
<main>
<h1>${title}</h1>
${body}
</main>
<footer><p>Written by ${name} ${version}. Measured ${measurement.measuredAt}. Values are given ± expanded uncertainty, k = 2, about 95 %.</p></footer>
</body>
</html>
`.text;
}

function summarySection(measurement: Measurement, units: Units): Markup {
  return markup`<section><h2>What was measured</h2>
<div class="scroll"><table><thead><tr><th scope="col">Quantity</th><th scope="col">Value</th><th scope="col">Verdict</th><th scope="col">Meaning</th></tr></thead>
<tbody>${describeQuantities(measurement, units).map(quantityRow)}</tbody></table></div></section>`;
}

function quantityRow(text: QuantityText): Markup {
  const word = text.verdict === 'outside' ? 'OUTSIDE' : text.verdict;
  const verdict =
    text.verdict === undefined
      ? markup``
      : markup`<strong class="${text.verdict.replace(' ', '-')}">${word}</strong><br>${text.limit}`;
  const lines = [text.meaning, text.reason, text.verdictWhy].filter((line) => line !== undefined);
  const weak = text.state === 'weak' ? markup`<strong class="cannot-tell">weak:</strong> ` : '';
  return markup`<tr><th scope="row">${text.name}</th><td class="number">${weak}${text.value ?? 'undetermined'}</td><td>${verdict}</td><td>${lines.map((line) => markup`<p>${line}</p>`)}${list(text.add.map((one) => `to add: ${one}`))}</td></tr>
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
    ? markup`<p>Nothing: leave the machine as it is.</p>`
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

/** State and advice; of a photo that was left out the reason stands beside it. */
function photoVerdict({ used, verdict }: Measurement['photos'][number]): Markup | string {
  if (verdict === undefined) return '';
  if (!used || verdict.advice.length === 0) return verdict.state;
  return markup`${verdict.state}${list(verdict.advice.map(({ text }) => text))}`;
}

function photoSection(
  measurement: Measurement,
  overlays: readonly ReportPicture[],
  units: Units,
): Markup | undefined {
  const { photos } = measurement;
  if (photos.length === 0) return undefined;
  const degrees = (rad: number | undefined) =>
    rad === undefined ? '' : `${fixed((rad * 180) / Math.PI, 1)}°`;
  const number = (value: number | undefined, decimals: number) =>
    value === undefined ? '' : fixed(value, decimals);
  return markup`<section><h2>Photos</h2>
<div class="scroll"><table><thead><tr><th scope="col">File</th><th scope="col">Used</th><th scope="col">Marks found</th><th scope="col">Residual, px</th><th scope="col">Edge width, px</th><th scope="col">Tilt</th><th scope="col">Roll</th><th scope="col">mm per px</th><th scope="col">As a picture</th></tr></thead>
<tbody>${photos.map(
    (photo) =>
      markup`<tr><th scope="row">${photo.file}</th><td>${photo.used ? 'yes' : markup`<strong>no</strong>: ${photo.reason}${photo.code === undefined ? undefined : markup` <code>${photo.code}</code>`}${photo.hint === undefined ? '' : `; ${photo.hint}`}`}</td><td class="number">${photo.segmentsFound === undefined ? '' : `${photo.segmentsFound}${photo.segmentsPredicted === undefined ? '' : ` of ${photo.segmentsPredicted}`}`}</td><td class="number">${number(photo.reprojectionRmsPx, 3)}</td><td class="number">${number(photo.sharpness, 1)}</td><td class="number">${degrees(photo.tiltRad)}</td><td class="number">${degrees(photo.rollRad)}</td><td class="number">${number(photo.mmPerPx, 3)}</td><td>${photoVerdict(photo)}</td></tr>
`,
  )}</tbody></table></div>
${oneMoreTexts(measurement, units).map((text) => markup`<p>${text}</p>`)}
${overlays.map(
  ({ photo, jpeg }) =>
    markup`<figure><img src="data:image/jpeg;base64,${Buffer.from(jpeg).toString('base64')}" alt="Photo ${photo} with the grid as computed and every mark as it was found"><figcaption>${photo}</figcaption></figure>
`,
)}</section>`;
}

function pointsSection({ points = [], imagePoints }: Measurement): Markup | undefined {
  if (imagePoints !== undefined) {
    return markup`<section><h2>Image points</h2>${list([describeImagePoints(imagePoints)])}</section>`;
  }
  if (points.length === 0) return undefined;
  return markup`<section><h2>Nodes measured on the board</h2>${list(points.map(describePoints))}</section>`;
}

function deviationSection(measurement: Measurement, units: Units): Markup | undefined {
  const { deviations } = measurement;
  if (deviations.length === 0) return undefined;
  const cell = (value: number | undefined, u: number) =>
    value === undefined ? '' : showValue('length', value, COVERAGE_FACTOR * u, units).withU;
  return markup`<section><h2>Deviations line by line</h2>
<p>Actual minus commanded position. Filled discs on a full line: approached rising (forward). Hollow squares on a dashed line: approached falling (reverse). Bars: ± U.${deviations.some(({ rung }) => rung) ? ' Marks that no line joins: rungs of the ladders.' : ''}</p>
${deviationCharts(measurement, units)}
${positioningTable(deviations, units)}
<details><summary>Table</summary><div class="scroll"><table><thead><tr><th scope="col">Placement</th><th scope="col">Axis</th><th scope="col">Commanded</th><th scope="col">Forward</th><th scope="col">Reverse</th></tr></thead><tbody>${deviations.map(
    ({ placement, axis, commanded, forward, reverse, u, rung }) =>
      markup`<tr><td>${placement + 1}</td><td>${axis.toUpperCase()}</td><td class="number">${showPlace(commanded, units)}${rung ? ' (rung)' : ''}</td><td class="number">${cell(forward, u)}</td><td class="number">${cell(reverse, u)}</td></tr>
`,
  )}</tbody></table></div></details></section>`;
}

/** ISO 230-2 from one run each way; lines marked from both sides alone. */
function positioningTable(deviations: Measurement['deviations'], units: Units): Markup | undefined {
  const rows = (['x', 'y'] as const).flatMap((axis) => {
    const targets = deviations.flatMap(({ axis: own, commanded, forward, reverse, rung }) =>
      own !== axis || rung || forward === undefined || reverse === undefined
        ? []
        : [{ targetMm: commanded, forward: [forward], reverse: [reverse] }],
    );
    return targets.length < 2 ? [] : [{ axis, told: positioningAccuracy(targets) }];
  });
  if (rows.length === 0) return undefined;
  const show = (value: number) =>
    showValue('length', value, POSITIONING_STEP_MM, units).size.replace(/^/, value < 0 ? '−' : '');
  return markup`<h3>Positioning by ISO 230-2, one run each way</h3>
<div class="scroll"><table><thead><tr><th scope="col">Axis</th><th scope="col">Reversal B</th><th scope="col">Mean reversal</th><th scope="col">Systematic deviation E</th><th scope="col">E forward</th><th scope="col">E reverse</th><th scope="col">Mean deviation M</th></tr></thead><tbody>${rows.map(
    ({ axis, told }) =>
      markup`<tr><th scope="row">${axis.toUpperCase()}</th>${[told.reversal, told.meanReversal, told.systematic, told.systematicForward, told.systematicReverse, told.meanRange].map((value) => markup`<td class="number">${show(value)}</td>`)}</tr>
`,
  )}</tbody></table></div>
<p>Repeatability R and accuracy A need several runs: not evaluated. Reversals are forward less reverse.</p>`;
}

/** To micrometres. */
const POSITIONING_STEP_MM = 0.01;

function evidenceSection(measurement: Measurement, units: Units): Markup | undefined {
  const { evidence } = measurement;
  const methods = methodTexts(measurement, units);
  if (evidence.length === 0 && methods.length === 0) return undefined;
  const show = (value: number, u: number, unit: string) =>
    showValue(unit === 'mm' ? 'length' : 'slope', value, COVERAGE_FACTOR * u, units);
  const table = markup`<p>E<sub>n</sub> above 1: the piece disagrees with all the rest.</p>
<div class="scroll"><table><thead><tr><th scope="col">What</th><th scope="col">Given</th><th scope="col">Adjusted</th><th scope="col">E<sub>n</sub></th></tr></thead><tbody>${evidence.map(
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
<div class="scroll"><table><thead><tr><th scope="col">Term</th><th scope="col">Value ± U</th></tr></thead><tbody>${terms.map(
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
  return markup`<section><h2>Adjustment</h2><div class="scroll"><table><tbody>${rows.map(
    ([name, value]) => markup`<tr><th scope="row">${name}</th><td class="number">${value}</td></tr>
`,
  )}</tbody></table></div></section>`;
}

function list(items: readonly string[]): Markup | undefined {
  if (items.length === 0) return undefined;
  return markup`<ul>${items.map((item) => markup`<li>${item}</li>`)}</ul>`;
}
