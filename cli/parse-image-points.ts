/** The options about image points: what is asked, and which calls make no sense. */

import {
  failed,
  type ImagePointsRequest,
  type Outcome,
  REPORTED_CAMERA_TERMS,
  type ReportedCameraTerm,
  success,
} from '../src/index.js';
import type { ImagePointsOptions } from './image-points-options.js';

/** What the rest of the call may not say beside them. */
interface Beside {
  readonly points?: readonly string[];
  readonly origin?: string;
  readonly crossing?: readonly string[];
  readonly rectified?: boolean;
  readonly photosOnly?: boolean;
  readonly check?: boolean;
}

type Asked = Pick<ImagePointsRequest, 'imagePointsFile' | 'camera' | 'cameraTerms' | 'isGridKnown'>;

const SIZE = /^\s*(\d{1,6})\s*[x×]\s*(\d{1,6})\s*$/i;
const NUMBER = /^\s*(\d+(?:\.\d*)?|\.\d+)\s*$/;
/** No lens without a fish's eye sees more than 135°: in sides of the picture. */
const LEAST_FOCAL = 0.2;
/** Lowest side of a picture that shows a grid. */
const LEAST_SIDE_PX = 16;

/**
 * @returns undefined where no image points are given.
 * Fails: WRONG_CALL.
 */
export function parseImagePoints(
  named: readonly string[],
  options: ImagePointsOptions & Beside,
): Outcome<Asked | undefined> {
  const { imagePoints, imageSize, focalLength, cameraTerms, knownGrid } = options;
  const lone = [
    ...(imageSize === undefined ? [] : ['--image-size']),
    ...(focalLength === undefined ? [] : ['--focal-length']),
    ...(cameraTerms === undefined ? [] : ['--camera-terms']),
    ...(knownGrid ? ['--known-grid'] : []),
  ];
  if (imagePoints === undefined) {
    if (lone.length === 0) return success(undefined);
    return refuse(
      `${lone.join(', ')}: only with --image-points`,
      'name the file of image points with --image-points FILE, or leave these options out',
    );
  }
  const conflict = findConflict(named, options);
  if (conflict !== undefined) return refuse(...conflict);
  if (imageSize === undefined) {
    return refuse(
      '--image-size is missing: a file of points does not tell how large the pictures are',
      'give width and height of the pictures in pixels, such as --image-size 4000x3000',
    );
  }
  const size = SIZE.exec(imageSize)?.slice(1).map(Number);
  if (size === undefined || size.some((side) => side < LEAST_SIDE_PX)) {
    return refuse(
      `--image-size: expected width and height in px, such as 4000x3000, found "${imageSize}"`,
      'give the size of the pictures as the sensor took them',
    );
  }
  const focal = focalLength === undefined ? undefined : Number(NUMBER.exec(focalLength)?.[1]);
  if (focal !== undefined && !(focal > 0)) {
    return refuse(
      `--focal-length: expected a length in px above 0, found "${focalLength}"`,
      'focal length in mm over the size of a pixel in mm, or leave it out: then it is searched for',
    );
  }
  const longer = Math.max(...size);
  if (focal !== undefined && focal < LEAST_FOCAL * longer) {
    return refuse(
      `--focal-length: ${focal} px would see ${Math.round((2 * Math.atan(longer / 2 / focal) * 180) / Math.PI)}° across a picture of ${longer} px: is it in mm?`,
      'divide the focal length in mm by the size of a pixel in mm, or leave it out: then it is searched for',
    );
  }
  const terms = cameraTerms === undefined ? undefined : parseTerms(cameraTerms, focal);
  if (terms !== undefined && !terms.ok) return terms;
  return success({
    imagePointsFile: imagePoints,
    camera: {
      widthPx: size[0]!,
      heightPx: size[1]!,
      ...(focal === undefined ? {} : { focalLengthPx: focal }),
    },
    ...(terms === undefined ? {} : { cameraTerms: terms.value }),
    isGridKnown: knownGrid === true,
  });
}

function findConflict(
  named: readonly string[],
  {
    points,
    origin,
    crossing,
    rectified,
    photosOnly,
    check,
    knownGrid,
  }: Beside & ImagePointsOptions,
): [message: string, hint: string] | undefined {
  if (named.length > 0) {
    return [
      'photos and --image-points cannot be measured together: expected one of them',
      'image points stand for photos: name no photos beside them, or leave --image-points out',
    ];
  }
  if (points !== undefined) {
    return [
      '--points and --image-points cannot be measured together: expected one of them',
      'measure each by itself and compare the results',
    ];
  }
  const needPictures = [
    ...(origin === undefined ? [] : ['--origin']),
    ...(crossing === undefined ? [] : ['--crossing']),
    ...(rectified ? ['--rectified'] : []),
    ...(photosOnly ? ['--photos-only'] : []),
  ];
  if (needPictures.length > 0) {
    return [
      `${needPictures.join(', ')}: not with --image-points, which brings no pictures`,
      'leave these options out, or name the photos themselves instead',
    ];
  }
  if (knownGrid && check) {
    return [
      '--check: not with --known-grid, which says nothing of the machine',
      'leave one of them out',
    ];
  }
  return undefined;
}

function parseTerms(text: string, focal: number | undefined): Outcome<ReportedCameraTerm[]> {
  const all: readonly string[] = REPORTED_CAMERA_TERMS;
  const terms = text.split(',').map((term) => term.trim());
  const hint = `separate the terms by commas, such as --camera-terms f,cu,cv,k1,k2; there are ${all.join(', ')}`;
  const strange = terms.find((term) => !all.includes(term));
  if (strange !== undefined) {
    return refuse(
      `--camera-terms: expected terms of the camera, found ${strange === '' ? 'nothing' : `"${strange}"`}`,
      hint,
    );
  }
  const twice = terms.find((term, i) => terms.indexOf(term) !== i);
  if (twice !== undefined) return refuse(`--camera-terms: ${twice} stands there twice`, hint);
  if (terms.includes('centreU') !== terms.includes('centreV')) {
    return refuse(
      '--camera-terms: centreU and centreV belong together, the one without the other was found',
      'name both, or none: then the lens is centred on the principal point',
    );
  }
  if (!terms.includes('f') && focal === undefined) {
    return refuse(
      '--camera-terms: f is neither adjusted nor known',
      'add f to the terms, or state it with --focal-length',
    );
  }
  return success(terms as ReportedCameraTerm[]);
}

function refuse(message: string, hint: string): ReturnType<typeof failed> {
  return failed('WRONG_CALL', message, { hint });
}
