/** The files of a fixture that was looked at: the result, the report, a picture per photo. */

import { basename } from 'node:path';
import type { FixtureResult } from '../../shared/schemas/fixture.js';
import { compositeSvg, displayFrame } from '../imaging/index.js';
import { type Outcome, success } from '../quantity/index.js';
import { fixtureHtml, fixtureOverlaySvg, type ReportPicture } from '../report/index.js';
import type { FixturePhoto } from './fixture-pictures.js';
import { type OutputFile, writeOutputFolder } from './output-folder.js';
import type { SavedFixture } from './read-fixture-result.js';
import { pictureNames, picturesBeside, reportPicture, sideBySide } from './report-pictures.js';
import type { FixtureSurvey } from './survey-fixture.js';
import type { WriteResultsOptions } from './write-results.js';

export type WriteFixtureOptions = Pick<WriteResultsOptions, 'force' | 'sourcePaths' | 'units'>;

export interface WrittenFixture {
  readonly files: readonly string[];
  /** As written: with the names of the pictures. */
  readonly result: FixtureResult;
}

/** Names that looking at a fixture in these photos will write. */
export function fixtureResultNames(photoFiles: readonly string[]): string[] {
  return ['fixture.json', 'fixture.html', ...pictureNames('fixture', photoFiles)];
}

/**
 * Writes fixture.json, fixture.html and one picture per used photo: all of them or none.
 *
 * Fails: OUTPUT_EXISTS; OUTPUT_UNWRITABLE; as reading a photo.
 */
export async function writeFixtureResults(
  { result, photos }: FixtureSurvey,
  outDir: string,
  options: WriteFixtureOptions,
): Promise<Outcome<WrittenFixture>> {
  const names = pictureNames(
    'fixture',
    result.photos.map(({ file }) => file),
  );
  const drawn = await sideBySide(photos, drawPhoto);
  const pictures: OutputFile[] = [];
  const forReport: ReportPicture[] = [];
  const records = [...result.photos];
  for (const [i, one] of drawn.entries()) {
    if (!one.ok) return one;
    const { index } = photos[i]!;
    const name = names[index]!;
    pictures.push({ name, content: one.value.overlay });
    forReport.push(one.value.inReport);
    records[index] = { ...records[index]!, overlay: name };
  }
  const complete: FixtureResult = { ...result, photos: records };
  const written = await writeOutputFolder(
    outDir,
    [
      { name: 'fixture.json', content: `${JSON.stringify(complete, undefined, 2)}\n` },
      { name: 'fixture.html', content: fixtureHtml(complete, forReport, options.units) },
      ...pictures,
    ],
    options,
  );
  return written.ok ? success({ files: written.value, result: complete }) : written;
}

/**
 * Writes fixture.html of a saved result again, with the pictures that still lie beside it.
 *
 * Fails: OUTPUT_EXISTS; OUTPUT_UNWRITABLE.
 */
export async function rewriteFixtureReport(
  { result, file }: SavedFixture,
  outDir: string,
  { force, units }: Pick<WriteFixtureOptions, 'force' | 'units'>,
): Promise<Outcome<string[]>> {
  const pictures = await picturesBeside(file, 'fixture.html', result.photos);
  return writeOutputFolder(
    outDir,
    [{ name: 'fixture.html', content: fixtureHtml(result, pictures, units) }],
    { force, sourcePaths: [file] },
  );
}

async function drawPhoto({
  path,
  overlay,
  orientation,
}: FixturePhoto): Promise<Outcome<{ readonly overlay: Buffer; readonly inReport: ReportPicture }>> {
  const frame = displayFrame(overlay, orientation);
  const drawn = await compositeSvg(path, fixtureOverlaySvg(overlay, frame), { orientation });
  if (!drawn.ok) return drawn;
  return success({
    overlay: drawn.value,
    inReport: await reportPicture(basename(path), drawn.value),
  });
}
