/** A survey's files: the result, the report, the overlay pictures, the table. */

import { basename, dirname, extname, join } from 'node:path';
import sharp from 'sharp';
import type { Measurement } from '../../shared/schemas/measurement.js';
import { compositeSvg, displayFrame } from '../imaging/index.js';
import { type Outcome, success } from '../quantity/index.js';
import {
  deviationsCsv,
  overlaySvg,
  plainText,
  type ReportDrift,
  type ReportPicture,
  reportHtml,
  type Units,
} from '../report/index.js';
import { type OutputFile, writeOutputFolder } from './output-folder.js';
import { rectifyPhoto } from './rectify-photo.js';
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

/** Width of the pictures inside the report: a screen's, so that eight photos stay one small file. */
const REPORT_PICTURE_PX = 1200;

/** Names that a survey of these photos will write, but for pictures true to scale. */
export function resultNames(photoFiles: readonly string[]): string[] {
  return ['measurement.json', 'report.html', 'deviations.csv', ...pictureNames(photoFiles)];
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
  const names = pictureNames(measurement.photos.map(({ file }) => file));
  let done = 0;
  const drawn = await sideBySide(photos, async (photo) => {
    done++;
    const { length: total } = photos;
    options.onProgress?.({ step: 'writing', done, total, what: basename(photo.path) });
    return drawPictures(photo, names[photo.index]!, options.rectified);
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
    forReport.push({ photo: record.file, jpeg: inReport });
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
  readonly inReport: Buffer;
  readonly rectified?: OutputFile;
}

async function drawPictures(
  photo: SurveyedPhoto,
  name: string,
  isRectified: boolean,
): Promise<Outcome<DrawnPictures>> {
  const overlay = await drawOverlay(photo);
  if (!overlay.ok) return overlay;
  const drawn = {
    overlay: { name, content: overlay.value },
    inReport: await shrinkForReport(overlay.value),
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

/** Pictures in work at once: the decoder has threads of its own, and each holds a photo in colour. */
const AT_ONCE = 2;

/** The results in the order of the items; each item is begun in that order. */
async function sideBySide<T, R>(items: readonly T[], work: (item: T) => Promise<R>): Promise<R[]> {
  const results: R[] = [];
  let next = 0;
  const lane = async () => {
    while (next < items.length) {
      const i = next++;
      results[i] = await work(items[i]!);
    }
  };
  await Promise.all(Array.from({ length: AT_ONCE }, lane));
  return results;
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
  options: Pick<WriteResultsOptions, 'force' | 'units'> & { readonly drift?: ReportDrift },
): Promise<Outcome<string[]>> {
  const folder = dirname(measurementFile);
  const forReport: ReportPicture[] = [];
  for (const { file, overlay } of measurement.photos) {
    if (overlay === undefined || overlay !== basename(overlay)) continue;
    try {
      forReport.push({ photo: file, jpeg: await shrinkForReport(join(folder, overlay)) });
    } catch {
      // The picture is gone or is none: the report does without.
    }
  }
  return writeOutputFolder(
    outDir,
    [
      {
        name: 'report.html',
        content: reportHtml(measurement, forReport, options.units, options.drift),
      },
      { name: 'deviations.csv', content: deviationsCsv(measurement) },
    ],
    { force: options.force, sourcePaths: [measurementFile] },
  );
}

async function drawOverlay({
  path,
  overlay,
  orientation,
}: SurveyedPhoto): Promise<Outcome<Buffer>> {
  const frame = displayFrame(overlay, orientation);
  return compositeSvg(path, overlaySvg(overlay, frame), { orientation });
}

async function shrinkForReport(picture: Buffer | string): Promise<Buffer> {
  return sharp(picture)
    .resize({ width: REPORT_PICTURE_PX, withoutEnlargement: true })
    .jpeg({ quality: 80 })
    .toBuffer();
}

/** `overlay-<photo>.jpg` for each, numbered where two photos share a name. */
function pictureNames(files: readonly string[]): string[] {
  const taken = new Set<string>();
  return files.map((file) => {
    const stem = plainStem(basename(file, extname(file)));
    for (let n = 1; ; n += 1) {
      const name = `overlay-${stem}${n === 1 ? '' : `-${n}`}.jpg`;
      // Some file systems do not tell capitals apart.
      if (taken.has(name.toLowerCase())) continue;
      taken.add(name.toLowerCase());
      return name;
    }
  });
}

/** With what stands around it, the longest name that file systems take is 255 bytes. */
const LONGEST_STEM_BYTES = 200;

/** What acts on a terminal or is no part of a name on some systems becomes a low line. */
function plainStem(stem: string): string {
  const plain = plainText(stem).replace(/[\ufffd<>:"/\\|?*]/g, '_');
  const letters = [...plain];
  while (Buffer.byteLength(letters.join('')) > LONGEST_STEM_BYTES) letters.pop();
  return letters.join('');
}
