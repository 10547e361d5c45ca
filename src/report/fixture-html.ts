/** The report on a fixture: by itself, and as a part of the report of a measurement. */

import type { FixtureResult } from '../../shared/schemas/fixture.js';
import { type Markup, markup } from './escape-markup.js';
import { fixtureParts } from './fixture-parts.js';
import { fixtureName, fixtureVerdict } from './fixture-words.js';
import { reportPage } from './report-page.js';
import type { ReportPicture } from './report-photos.js';
import type { Units } from './show-number.js';

/** A fixture that goes into the report of a measurement. */
export interface ReportFixture {
  readonly result: FixtureResult;
  readonly pictures: readonly ReportPicture[];
}

/** @param pictures to show; photos without one are listed all the same. */
export function fixtureHtml(
  result: FixtureResult,
  pictures: readonly ReportPicture[],
  units: Units = 'mm',
): string {
  const { tool, measuredAt } = result;
  return reportPage({
    title: `${fixtureName(result)}, ${measuredAt.slice(0, 10)}`,
    verdict: fixtureVerdict(result),
    body: fixtureParts(result, pictures, units, 'fixture').map(
      ({ title, body }) => markup`<section><h2>${title}</h2>
${body}</section>`,
    ),
    tool,
    measuredAt,
  });
}

/** @param index of the fixture among those of the report. */
export function fixtureSection(
  { result, pictures }: ReportFixture,
  index: number,
  units: Units,
): Markup {
  return markup`<section class="fixture"><h2>Fixture ${fixtureName(result)}</h2>
<p class="verdict">${fixtureVerdict(result)}</p>
<p>Looked at ${result.measuredAt} with ${result.tool.name} ${result.tool.version}.</p>
${fixtureParts(result, pictures, units, `fixture-${index}`).map(
  ({ title, body }) => markup`<h3>${title}</h3>
${body}`,
)}</section>`;
}
