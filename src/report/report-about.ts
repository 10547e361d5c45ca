/** What a technical report says of itself: object, method, conditions, assumptions, and how to get it again. */

import type { Measurement } from '../../shared/schemas/measurement.js';
import { type Markup, markup } from './escape-markup.js';
import { list } from './markup-list.js';
import { fixed } from './show-number.js';

/** Object, method, conditions. */
export function aboutSection(measurement: Measurement): Markup {
  const {
    machine,
    gantryAxis,
    measuredAt,
    placements,
    photos,
    points = [],
    imagePoints,
  } = measurement;
  const used = photos.filter((photo) => photo.used).length;
  const travel =
    gantryAxis === 'none'
      ? 'the table moves'
      : `the gantry travels along ${gantryAxis.toUpperCase()}`;
  const rows: [string, string][] = [
    ['Machine', `${machine ?? 'not named'}; ${travel}`],
    ['Evaluated', measuredAt],
    ...takenRows(photos),
    [
      'Marked by',
      placements.map(({ program, strokes }) => `${program} (${strokes} marks)`).join(', ') ||
        'nothing known',
    ],
    [
      'Based on',
      [
        ...(photos.length > 0 ? [`${used} of ${photos.length} photos`] : []),
        ...(imagePoints === undefined ? [] : [`image points of ${imagePoints.file}`]),
        ...points.map(({ file, points: count }) => `${count} nodes of ${file}`),
      ].join(', ') || 'nothing',
    ],
    ['Method', methodOf(measurement)],
    ['Uncertainty', 'expanded, coverage factor 2, about 95 % (GUM)'],
    [
      'Decisions',
      'ISO 14253-1: inside where |value| + U stays within the limit, outside where |value| − U exceeds it',
    ],
  ];
  return markup`<section><h2>About this measurement</h2><div class="scroll" tabindex="0" role="region" aria-label="About this measurement"><table><tbody>${rows.map(
    ([name, value]) => markup`<tr><th scope="row">${name}</th><td>${value}</td></tr>
`,
  )}</tbody></table></div></section>`;
}

function takenRows(photos: Measurement['photos']): [string, string][] {
  const times = photos
    .flatMap(({ takenAt }) =>
      takenAt === undefined ? [] : [takenAt.replace(/^(\d{4}):(\d{2}):/, '$1-$2-')],
    )
    .sort();
  const [first, last] = [times[0], times[times.length - 1]];
  if (first === undefined || last === undefined) return [];
  return [['Photographed', first === last ? first : `${first} to ${last}`]];
}

function methodOf({ methods, placements, photos }: Measurement): string {
  if (methods?.[0]?.method === 'turned board') {
    return 'turned board: one program’s marks against another’s after a turn of the board; least squares, nothing believed of the camera';
  }
  if (photos.length === 0) return 'least squares over the measured points';
  return placements.length > 1
    ? 'fresh marks beside old ones; bundle adjustment of the photos'
    : 'bundle adjustment of the photos: lens, poses and machine errors together, each mark with its own wander';
}

/** What was taken for granted. */
export function assumptionSection(measurement: Measurement): Markup | undefined {
  const { methods, scale, photos, adjustment, gantryAxis, board } = measurement;
  const isTurned = methods?.[0]?.method === 'turned board';
  const told = [
    'the programs named are those that marked the board, and nothing moved between marking and photographing but what is said',
    ...(photos.length > 0 && isTurned
      ? [
          'between the two markings the machine stayed the same, and the board did not bend when it was turned',
        ]
      : []),
    ...(photos.length > 0 && !isTurned && adjustment?.cameraTerms === undefined
      ? [
          'the cameras are as phone cameras usually are (priors in the guide for contributors); each photo may depart a little',
        ]
      : []),
    ...(adjustment?.cameraTerms === undefined
      ? []
      : [
          `of the camera only ${adjustment.cameraTerms.join(', ')} were adjusted, the same in all photos`,
        ]),
    ...(scale.x.state === 'undetermined'
      ? []
      : ['taped lengths and rules are what they were said to be, within their uncertainty']),
    ...(board === undefined
      ? ['the board is flat but for a bow and a twist too small to matter']
      : []),
    ...(gantryAxis === 'none'
      ? []
      : [`the sides of the gantry may travel unequally along ${gantryAxis.toUpperCase()}`]),
  ];
  return markup`<section><h2>Assumptions</h2>${list(told)}</section>`;
}

/** Versions and digests: the same files and version give the same result. */
export function reproduceSection(measurement: Measurement): Markup {
  const { tool, schema, placements, photos, points = [], imagePoints, adjustment } = measurement;
  const files = [
    ...placements.map(({ program, sha256 }) => ({ file: program, sha256 })),
    ...photos.map(({ file, sha256 }) => ({ file, sha256 })),
    ...points.map(({ file, sha256 }) => ({ file, sha256 })),
    ...(imagePoints === undefined ? [] : [imagePoints]),
  ];
  const seconds =
    adjustment === undefined ? '' : `; evaluated in ${fixed(adjustment.seconds, 1)} s`;
  return markup`<section><h2>To get it again</h2>
<p>${tool.name} ${tool.version}, result ${schema}${seconds}. The same files and version give the same values.</p>
${digestTable(files)}</section>`;
}

/** What each file must be, to give the same again. */
export function digestTable(
  files: readonly { readonly file: string; readonly sha256?: string | undefined }[],
): Markup {
  return markup`<details><summary>Files and their SHA-256</summary><div class="scroll" tabindex="0" role="region" aria-label="Files and their SHA-256"><table><tbody>${files.map(
    ({
      file,
      sha256,
    }) => markup`<tr><th scope="row">${file}</th><td><code class="digest">${sha256 ?? 'none'}</code></td></tr>
`,
  )}</tbody></table></div></details>`;
}
