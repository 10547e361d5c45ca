/** The report's part on photos: what each is worth, the picture with what was found, and what is left in it. */

import type { Measurement, PhotoRecord } from '../../shared/schemas/measurement.js';
import { Markup, markup } from './escape-markup.js';
import { list } from './markup-list.js';
import { oneMoreTexts } from './one-more-text.js';
import { residualHistogram, residualMap } from './residual-charts.js';
import { fixed, type Units } from './show-number.js';

const JPEG_URL = 'data:image/jpeg;base64,';

/** A picture that goes into the report itself. */
export interface ReportPicture {
  /** The photo's file as the measurement names it. */
  readonly photo: string;
  readonly jpeg: Uint8Array;
  /** SHA-256 of the larger picture that it was made from, hexadecimal: a later report takes it over by that. */
  readonly of?: string;
}

export function photoSection(
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
<div class="scroll" tabindex="0" role="region" aria-label="Photos"><table><thead><tr><th scope="col">File</th><th scope="col">Used</th><th scope="col">Marks found</th><th scope="col">Residual, px</th><th scope="col">Edge width, px</th><th scope="col">Tilt</th><th scope="col">Roll</th><th scope="col">mm per px</th><th scope="col">As a picture</th></tr></thead>
<tbody>${photos.map(
    (photo) =>
      markup`<tr><th scope="row">${photo.file}</th><td>${photo.used ? 'yes' : markup`<strong>no</strong>: ${photo.reason}${photo.code === undefined ? undefined : markup` <code>${photo.code}</code>`}${photo.hint === undefined ? '' : `; ${photo.hint}`}`}</td><td class="number">${photo.segmentsFound === undefined ? '' : `${photo.segmentsFound}${photo.segmentsPredicted === undefined ? '' : ` of ${photo.segmentsPredicted}`}`}</td><td class="number">${number(photo.reprojectionRmsPx, 3)}</td><td class="number">${number(photo.sharpness, 1)}</td><td class="number">${degrees(photo.tiltRad)}</td><td class="number">${degrees(photo.rollRad)}</td><td class="number">${number(photo.mmPerPx, 3)}</td><td>${photoVerdict(photo)}</td></tr>
`,
  )}</tbody></table></div>
${oneMoreTexts(measurement, units).map((text) => markup`<p>${text}</p>`)}
${overlays.map((picture, k) =>
  pictureFigure(picture, `zoom-${k}`, {
    alt: `Photo ${picture.photo} with the grid as computed, every mark as it was found, and numbered signs at lines that are out of tolerance`,
    caption: `${picture.photo}: lines as computed, bars where marks were found and used, hollow circles where not; dashed lines and numbered signs: out of tolerance, as listed above`,
  }),
)}
${residualCharts(photos)}</section>`;
}

/** The pictures that a report holds, as they are, by the digest of what each was made from. */
export function picturesInReport(html: string): Map<string, Buffer> {
  const pictures = new Map<string, Buffer>();
  let at = 0;
  for (;;) {
    const start = html.indexOf(OF, at);
    if (start < 0) return pictures;
    at = start + OF.length;
    const digest = html.slice(at, at + DIGEST_LETTERS);
    const head = `" src="${JPEG_URL}`;
    const from = at + DIGEST_LETTERS + head.length;
    const end = html.indexOf('"', from);
    if (end < 0 || html.slice(at + DIGEST_LETTERS, from) !== head) continue;
    const jpeg = Buffer.from(html.slice(from, end), 'base64');
    if (/^[0-9a-f]+$/.test(digest) && jpeg[0] === 0xff && jpeg[1] === 0xd8) {
      pictures.set(digest, jpeg);
    }
  }
}

const OF = '<img data-of="';
const DIGEST_LETTERS = 64;

/** A picture that can be shown large without a script. */
export function pictureFigure(
  { photo, jpeg, of }: ReportPicture,
  id: string,
  { alt, caption }: { readonly alt: string; readonly caption: string },
): Markup {
  return markup`<figure class="photo"><label class="zoom"><input type="checkbox" id="${id}"> large</label><div class="scroll picture" tabindex="0" role="region" aria-label="Photo ${photo}"><img${of === undefined ? undefined : markup` data-of="${of}"`} src="${new Markup(JPEG_URL)}${Buffer.from(jpeg).toString('base64')}" alt="${alt}"></div><figcaption>${caption}</figcaption></figure>
`;
}

/** State and advice; of a photo that was left out the reason stands beside it. */
function photoVerdict({ used, verdict }: Measurement['photos'][number]): Markup | string {
  if (verdict === undefined) return '';
  if (!used || verdict.advice.length === 0) return verdict.state;
  return markup`${verdict.state}${list(verdict.advice.map(({ text }) => text))}`;
}

function residualCharts(photos: readonly PhotoRecord[]): Markup | undefined {
  const shown = photos.flatMap((photo) =>
    photo.residuals === undefined ? [] : [{ ...photo, residuals: photo.residuals }],
  );
  if (shown.length === 0) return undefined;
  return markup`<h3>What is left in the photos</h3>
<p>Observed minus computed position of each mark across its line. Where all fits, the bars follow the curve and the arrows point every way.</p>
${shown.map(
  (
    photo,
  ) => markup`<details><summary>${photo.file}</summary>${residualHistogram(photo)}${residualMap(photo)}</details>
`,
)}`;
}
