/** Pictures that a report holds: their names, their size, and how many are in work at once. */

import { createHash } from 'node:crypto';
import { basename, dirname, extname, join } from 'node:path';
import { loadSharp, readLimited } from '../imaging/index.js';
import { picturesInReport, plainText, type ReportPicture } from '../report/index.js';

/** Width of the pictures inside the report: a screen's, so that eight photos stay one small file. */
const REPORT_PICTURE_PX = 1200;

/**
 * Of a saved result: the pictures that still lie beside it, made smaller. Those that its earlier report holds of the
 * very same pictures are taken over as they are: to make them again takes longer than all the rest of a report.
 */
export async function picturesBeside(
  resultFile: string,
  reportName: 'report.html' | 'fixture.html',
  photos: readonly { readonly file: string; readonly overlay?: string | undefined }[],
): Promise<ReportPicture[]> {
  const folder = dirname(resultFile);
  const earlier = await readEarlier(join(folder, reportName));
  const found = await sideBySide(photos, async ({ file, overlay }) => {
    if (overlay === undefined || overlay !== basename(overlay)) return [];
    try {
      const picture = await readLimited(join(folder, overlay), MOST_PICTURE_BYTES);
      return picture === undefined ? [] : [await reportPicture(file, picture, earlier)];
    } catch {
      // The picture is gone or is none: the report does without.
      return [];
    }
  });
  return found.flat();
}

/** Larger than any picture and any report of ours. */
const MOST_PICTURE_BYTES = 50_000_000;
const MOST_REPORT_BYTES = 200_000_000;

async function readEarlier(report: string): Promise<Map<string, Buffer>> {
  try {
    const html = await readLimited(report, MOST_REPORT_BYTES);
    return picturesInReport(html?.toString('latin1') ?? '');
  } catch {
    return new Map();
  }
}

/** @param picture a JPEG. */
export async function reportPicture(
  photo: string,
  picture: Buffer,
  earlier?: ReadonlyMap<string, Buffer>,
): Promise<ReportPicture> {
  const of = createHash('sha256').update(picture).digest('hex');
  return { photo, of, jpeg: earlier?.get(of) ?? (await shrink(picture)) };
}

/** Pictures in work at once: the decoder has threads of its own, and each holds a photo in colour. */
const AT_ONCE = 2;

/** The results in the order of the items; each item is begun in that order. */
export async function sideBySide<T, R>(
  items: readonly T[],
  work: (item: T) => Promise<R>,
): Promise<R[]> {
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

async function shrink(picture: Buffer): Promise<Buffer> {
  const sharp = await loadSharp();
  return sharp(picture)
    .resize({ width: REPORT_PICTURE_PX, withoutEnlargement: true })
    .jpeg({ quality: 80 })
    .toBuffer();
}

/** `<kind>-<photo>.jpg` for each, numbered where two photos share a name. */
export function pictureNames(kind: 'overlay' | 'fixture', files: readonly string[]): string[] {
  const taken = new Set<string>();
  return files.map((file) => {
    const stem = plainStem(basename(file, extname(file)));
    for (let n = 1; ; n += 1) {
      const name = `${kind}-${stem}${n === 1 ? '' : `-${n}`}.jpg`;
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
