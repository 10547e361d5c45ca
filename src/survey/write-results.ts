/** A survey's files: the result, the report, the overlay pictures, the table. */

import { basename } from 'node:path';
import type { Measurement } from '../../shared/schemas/measurement.js';
import { compositeSvg, displayFrame } from '../imaging/index.js';
import { type Outcome, success } from '../quantity/index.js';
import {
  deviationsCsv,
  type OutsideMarks,
  outsideMarks,
  overlaySvg,
  type ReportDrift,
  type ReportPicture,
  reportHtml,
  type Units,
} from '../report/index.js';
import { type OutputFile, writeOutputFolder } from './output-folder.js';
import type { SavedFixture } from './read-fixture-result.js';
import { rectifyPhoto } from './rectify-photo.js';
import { pictureNames, picturesBeside, reportPicture, sideBySide } from './report-pictures.js';
import type { Survey, SurveyedPhoto, SurveyProgress } from './survey-request.js';

export interface WriteResultsOptions {
  /** Replace our own earlier files. */
  readonly force: boolean;
  /** Also each photo true to scale. */
  readonly rectified: boolean;
  /** Inputs, which are never written over. */
  readonly sourcePaths: readonly string[];
  /** Of the report; the other files are in mm. */
  readonly units?: Units;
  readonly onProgress?: (progress: SurveyProgress) => void;
}

export interface WrittenResults {
  readonly files: readonly string[];
  /** As written: with the names of the pictures. */
  readonly measurement: Measurement;
}

/** Names that a survey of these photos will write, but for pictures true to scale. */
export function resultNames(photoFiles: readonly string[]): string[] {
  return [
    'measurement.json',
    'report.html',
    'deviations.csv',
    ...pictureNames('overlay', photoFiles),
  ];
}

/**
 * Writes measurement.json, report.html, deviations.csv, one overlay per used photo and, when asked,
 * the photos true to scale: all of them or none.
 *
 * Fails: OUTPUT_EXISTS; OUTPUT_UNWRITABLE; as reading a photo.
 */
export async function writeResults(
  { measurement, photos }: Survey,
  outDir: string,
  options: WriteResultsOptions,
): Promise<Outcome<WrittenResults>> {
  const names = pictureNames(
    'overlay',
    measurement.photos.map(({ file }) => file),
  );
  const outside = measurement.adjustment === undefined ? undefined : outsideMarks(measurement);
  let done = 0;
  const drawn = await sideBySide(photos, async (photo) => {
    done++;
    const { length: total } = photos;
    options.onProgress?.({ step: 'writing', done, total, what: basename(photo.path) });
    return drawPictures(
      photo,
      measurement.photos[photo.index]!.file,
      names[photo.index]!,
      outside,
      options.rectified,
    );
  });
  const pictures: OutputFile[] = [];
  const forReport: ReportPicture[] = [];
  const records = [...measurement.photos];
  for (const [i, one] of drawn.entries()) {
    if (!one.ok) return one;
    const { overlay, inReport, rectified } = one.value;
    const { index } = photos[i]!;
    const record = records[index]!;
    pictures.push(overlay, ...(rectified === undefined ? [] : [rectified]));
    forReport.push(inReport);
    records[index] = {
      ...record,
      overlay: overlay.name,
      ...(rectified === undefined ? {} : { rectified: rectified.name }),
    };
  }
  const complete: Measurement = { ...measurement, photos: records };
  const written = await writeOutputFolder(
    outDir,
    [
      { name: 'measurement.json', content: `${JSON.stringify(complete, undefined, 2)}\n` },
      { name: 'report.html', content: reportHtml(complete, forReport, options.units) },
      { name: 'deviations.csv', content: deviationsCsv(complete) },
      ...pictures,
    ],
    options,
  );
  return written.ok ? success({ files: written.value, measurement: complete }) : written;
}

interface DrawnPictures {
  readonly overlay: OutputFile & { readonly content: Buffer };
  readonly inReport: ReportPicture;
  readonly rectified?: OutputFile;
}

async function drawPictures(
  photo: SurveyedPhoto,
  file: string,
  name: string,
  outside: OutsideMarks | undefined,
  isRectified: boolean,
): Promise<Outcome<DrawnPictures>> {
  const overlay = await drawOverlay(photo, outside);
  if (!overlay.ok) return overlay;
  const drawn = {
    overlay: { name, content: overlay.value },
    inReport: await reportPicture(file, overlay.value),
  };
  if (!isRectified || photo.imageFromBoard === undefined) return success(drawn);
  const picture = await rectifyPhoto(photo.path, photo);
  if (!picture.ok) return picture;
  const stem = name.replace(/^overlay-(.*)\.jpg$/, '$1');
  const { mmPerPx, jpeg } = picture.value;
  return success({
    ...drawn,
    rectified: { name: `rectified-${stem}-${mmPerPx}mm-per-px.jpg`, content: jpeg },
  });
}

export interface RewriteReportOptions extends Pick<WriteResultsOptions, 'force' | 'units'> {
  readonly drift?: ReportDrift;
  /** Looked at on this machine. */
  readonly fixtures?: readonly SavedFixture[];
}

/**
 * Writes report.html and deviations.csv of a saved measurement again, with the overlay pictures that
 * still lie beside it.
 *
 * Fails: OUTPUT_EXISTS; OUTPUT_UNWRITABLE.
 */
export async function rewriteReport(
  measurement: Measurement,
  measurementFile: string,
  outDir: string,
  options: RewriteReportOptions,
): Promise<Outcome<string[]>> {
  const { force, units, drift, fixtures = [] } = options;
  const forReport = await picturesBeside(measurementFile, 'report.html', measurement.photos);
  const withPictures = await Promise.all(
    fixtures.map(async ({ result, file }) => ({
      result,
      pictures: await picturesBeside(file, 'fixture.html', result.photos),
    })),
  );
  return writeOutputFolder(
    outDir,
    [
      {
        name: 'report.html',
        content: reportHtml(measurement, forReport, units, {
          ...(drift === undefined ? {} : { drift }),
          fixtures: withPictures,
        }),
      },
      { name: 'deviations.csv', content: deviationsCsv(measurement) },
    ],
    { force, sourcePaths: [measurementFile, ...fixtures.map(({ file }) => file)] },
  );
}

async function drawOverlay(
  { path, overlay, orientation }: SurveyedPhoto,
  outside: OutsideMarks | undefined,
): Promise<Outcome<Buffer>> {
  const frame = displayFrame(overlay, orientation);
  return compositeSvg(path, overlaySvg(overlay, frame, outside), { orientation });
}
