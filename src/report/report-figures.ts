/** The report's figures: the true grid, positioning, straightness, yaw, and where the uncertainty comes from. */

import { COVERAGE_FACTOR, type Measurement } from '../../shared/schemas/measurement.js';
import { positioningAccuracy } from '../machine/index.js';
import { straightnessCharts, yawChart } from './curve-charts.js';
import { type Markup, markup } from './escape-markup.js';
import { positioningCharts } from './positioning-chart.js';
import { shareBars } from './share-bars.js';
import { fixed, showPlace, showValue, type Units } from './show-number.js';
import { trueGrid } from './true-grid.js';
import { trueGridChart } from './true-grid-chart.js';

export function figureSections(measurement: Measurement, units: Units): (Markup | undefined)[] {
  return [
    gridSection(measurement, units),
    deviationSection(measurement, units),
    guideSection(measurement, units),
    shareSection(measurement),
  ];
}

function gridSection(measurement: Measurement, units: Units): Markup | undefined {
  const grid = trueGrid(measurement);
  if (grid === undefined) return undefined;
  const { chart, factor } = trueGridChart(grid, units);
  const missing =
    grid.missing.length === 0
      ? ''
      : ` Not in it, because nothing tells it: ${grid.missing.join(', ')}.`;
  const weak = grid.weak.length === 0 ? '' : ` Only weakly known: ${grid.weak.join(', ')}.`;
  return markup`<section><h2>The grid as it really is</h2>
<p>Thin: where the nodes were commanded. Thick, with arrows: where they lie, seen from above, errors drawn ${fixed(factor, factor < 1 ? 1 : 0)} times larger; the middle of the grid is laid on itself.${missing}${weak}</p>
${chart}</section>`;
}

function guideSection(measurement: Measurement, units: Units): Markup | undefined {
  const charts = [...straightnessCharts(measurement, units), yawChart(measurement, units)];
  if (charts.every((chart) => chart === undefined)) return undefined;
  return markup`<section><h2>Straightness and yaw</h2>
<p>About the least-squares line of each travel; bands: ± U.</p>
${charts}</section>`;
}

function shareSection(measurement: Measurement): Markup | undefined {
  const bars = shareBars(measurement);
  if (bars === undefined) return undefined;
  return markup`<section><h2>Where the uncertainty comes from</h2>
${bars}</section>`;
}

function deviationSection(measurement: Measurement, units: Units): Markup | undefined {
  const { deviations } = measurement;
  if (deviations.length === 0) return undefined;
  const cell = (value: number | undefined, u: number) =>
    value === undefined ? '' : showValue('length', value, COVERAGE_FACTOR * u, units).withU;
  return markup`<section><h2>Positioning line by line</h2>
<p>Actual minus commanded position. Filled discs on a full line: approached rising (forward). Hollow squares on a dashed line: approached falling (reverse). Bands: ± U. Thin line: the slope through all.${deviations.some(({ rung }) => rung) ? ' Marks that no line joins: rungs of the ladders.' : ''}</p>
${positioningCharts(measurement, units)}
${positioningTable(measurement, units)}
<details><summary>Table</summary><div class="scroll" tabindex="0" role="region" aria-label="Deviations, table"><table><thead><tr><th scope="col">Placement</th><th scope="col">Axis</th><th scope="col">Commanded</th><th scope="col">Forward</th><th scope="col">Reverse</th></tr></thead><tbody>${deviations.map(
    ({ placement, axis, commanded, forward, reverse, u, rung }) =>
      markup`<tr><td>${placement + 1}</td><td>${axis.toUpperCase()}</td><td class="number">${showPlace(commanded, units)}${rung ? ' (rung)' : ''}</td><td class="number">${cell(forward, u)}</td><td class="number">${cell(reverse, u)}</td></tr>
`,
  )}</tbody></table></div></details></section>`;
}

/** ISO 230-2 from one run each way; lines marked from both sides alone. */
function positioningTable({ deviations, scale }: Measurement, units: Units): Markup | undefined {
  const rows = (['x', 'y'] as const).flatMap((axis) => {
    const targets = deviations.flatMap(({ axis: own, commanded, forward, reverse, rung }) =>
      own !== axis || rung || forward === undefined || reverse === undefined
        ? []
        : [{ targetMm: commanded, forward: [forward], reverse: [reverse] }],
    );
    const isSlopeKnown = scale[axis].state !== 'undetermined';
    return targets.length < 2 ? [] : [{ axis, told: positioningAccuracy(targets), isSlopeKnown }];
  });
  if (rows.length === 0) return undefined;
  const show = (value: number) =>
    showValue('length', value, POSITIONING_STEP_MM, units).size.replace(/^/, value < 0 ? '−' : '');
  return markup`<h3>Positioning by ISO 230-2, one run each way</h3>
<div class="scroll" tabindex="0" role="region" aria-label="Positioning by ISO 230-2"><table><thead><tr><th scope="col">Axis</th><th scope="col">Reversal B</th><th scope="col">Mean reversal</th><th scope="col">Systematic deviation E</th><th scope="col">E forward</th><th scope="col">E reverse</th><th scope="col">Mean deviation M</th></tr></thead><tbody>${rows.map(
    ({ axis, told, isSlopeKnown }) =>
      markup`<tr><th scope="row">${axis.toUpperCase()}</th>${[told.reversal, told.meanReversal].map((value) => markup`<td class="number">${show(value)}</td>`)}${[told.systematic, told.systematicForward, told.systematicReverse, told.meanRange].map((value) => markup`<td class="number">${isSlopeKnown ? show(value) : 'not evaluated'}</td>`)}</tr>
`,
  )}</tbody></table></div>
<p>Repeatability R and accuracy A need several runs: not evaluated. Reversals are forward less reverse.${slopeWords(rows.filter(({ isSlopeKnown }) => !isSlopeKnown).map(({ axis }) => axis))}</p>`;
}

/** Without a known length nobody knows the slope: nothing that holds it is told. */
function slopeWords(axes: readonly string[]): string {
  if (axes.length === 0) return '';
  const names = axes.map((axis) => axis.toUpperCase()).join(' and ');
  return ` The scale of ${names} is undetermined: deviations are shown without their slope, and E and M, which hold it, are not evaluated.`;
}

/** To micrometres. */
const POSITIONING_STEP_MM = 0.01;
