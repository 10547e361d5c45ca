/** What the report says of how a fixture was looked at: object, method, settings, and how to get it again. */

import type { FixtureResult } from '../../shared/schemas/fixture.js';
import { type Markup, markup } from './escape-markup.js';
import { showTolerance } from './fixture-words.js';
import { digestTable } from './report-about.js';
import { fixed, shownNumber, type Units } from './show-number.js';

/** Object, method, settings, rules of decision. */
export function fixtureAbout(result: FixtureResult, units: Units): Markup {
  const { layout, measuredAt, features } = result;
  const rows: [string, string][] = [
    [
      'Layout',
      `${layout.name === undefined ? '' : `${layout.name}, `}${layout.file} (${layout.features} features)`,
    ],
    ['Evaluated', measuredAt],
    ['Method', methodOf(result)],
    ['The machine’s errors', machineText(result, units)],
    [
      'Tolerances',
      rangeText(
        features.map(({ tolerance }) => tolerance),
        units,
      ),
    ],
    [
      'Taken to be made to',
      `${rangeText(
        features.map(({ scatter }) => scatter),
        units,
      )} (standard deviation)`,
    ],
    ...(layout.clearance === undefined
      ? []
      : ([['Play of a dowel in its hole', showTolerance(layout.clearance, units)]] as [
          string,
          string,
        ][])),
    ...(layout.search === undefined || result.points !== undefined
      ? []
      : ([['Looked for within', showTolerance(layout.search, units)]] as [string, string][])),
    ['Uncertainty', 'expanded, coverage factor 2, about 95 % (GUM)'],
    [
      'Decisions',
      'ISO 14253-1: inside where deviation + U stays within the tolerance, outside where deviation − U exceeds it',
    ],
  ];
  return markup`<div class="scroll" tabindex="0" role="region" aria-label="About this fixture"><table><tbody>${rows.map(
    ([name, value]) => markup`<tr><th scope="row">${name}</th><td>${value}</td></tr>
`,
  )}</tbody></table></div>`;
}

/** Versions and digests. */
export function fixtureReproduce(result: FixtureResult): Markup {
  const { tool, schema, layout, photos, points, machine } = result;
  const files = [
    { file: layout.file, sha256: layout.sha256 },
    ...photos.map(({ file, sha256 }) => ({ file, sha256 })),
    ...(points === undefined ? [] : [points]),
    ...(machine.file === undefined ? [] : [{ file: machine.file, sha256: machine.sha256 }]),
  ];
  return markup`<p>${tool.name} ${tool.version}, result ${schema}. The same files and version give the same values.</p>
${digestTable(files)}`;
}

function methodOf({ points, machine, photos }: FixtureResult): string {
  if (points !== undefined) {
    return `places measured otherwise, from ${points.file}, in ${points.frame === 'machine' ? 'machine coordinates' : 'true millimetres'}`;
  }
  const used = photos.filter((photo) => photo.used).length;
  const place =
    machine.from === 'photos'
      ? 'whose places the grid in the same photos gave'
      : 'whose places the saved measurement or the grid in them gave';
  return `rims and edges fitted in ${used} of ${photos.length} photos, ${place}`;
}

function machineText({ machine }: FixtureResult, units: Units): string {
  const { from, file, scaleX, scaleY, squareness, scaleKnown } = machine;
  if (from === 'nothing') return 'not known: none was taken';
  const slope = (known: number | undefined) => {
    if (known === undefined) return 'not known';
    const { value, unit } = shownNumber('slope', known, units);
    return `${fixed(value, units === 'mm' ? 3 : 5)} ${unit}`;
  };
  const source = from === 'photos' ? 'measured in the same photos' : `from ${file ?? 'a file'}`;
  return `${source}: scale X ${slope(scaleX)}, scale Y ${slope(scaleY)}${scaleKnown ? '' : ' (against each other alone)'}, squareness ${slope(squareness)}`;
}

function rangeText(values: readonly (number | undefined)[], units: Units): string {
  const known = values.filter((value) => value !== undefined).sort((a, b) => a - b);
  const [least, most] = [known[0], known[known.length - 1]];
  if (least === undefined || most === undefined) return 'none stated';
  const none = values.length - known.length;
  const range =
    least === most
      ? showTolerance(least, units)
      : `${showTolerance(least, units)} to ${showTolerance(most, units)}`;
  return `${range}${none === 0 ? '' : ` (${none} of ${values.length} without)`}`;
}
