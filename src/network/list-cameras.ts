/** The adjusted cameras with the standard uncertainty of every term. */

import type { CameraRecord } from '../../shared/schemas/measurement.js';
import type { Adjustment } from './adjust.js';
import { CAMERA_TERMS, CENTRE, DISTORTION_CENTRE } from './camera-model.js';
import { cameraValues, HELD, isCentreTied } from './network.js';
import type { CameraTerm } from './network-input.js';

type Terms = Omit<
  CameraRecord,
  'make' | 'model' | 'widthPx' | 'heightPx' | 'photos' | 'focalLengthFrom'
>;

/** The lens shape stands for doubt, not for something that is reported. */
const KEY = {
  f: 'f',
  cu: 'cx',
  cv: 'cy',
  k1: 'k1',
  k2: 'k2',
  k3: 'k3',
  p1: 'p1',
  p2: 'p2',
  centreU: 'distortionCentreX',
  centreV: 'distortionCentreY',
  aspect: 'aspect',
  skew: 'skew',
} as const satisfies Partial<Record<CameraTerm, keyof Terms>>;

export type ReportedCameraTerm = keyof typeof KEY;
export const REPORTED_CAMERA_TERMS = Object.keys(KEY) as readonly ReportedCameraTerm[];

/** One record per camera of the network, in its order. A term that was held, not adjusted, has u = 0. */
export function listCameras({ network, state, covariance }: Adjustment): CameraRecord[] {
  const n = network.table.size;
  return network.input.cameras.map((camera, i) => {
    const at = network.cameraAt[i];
    const tied = isCentreTied(network.input);
    const own = (k: number) =>
      at +
      (tied && k >= DISTORTION_CENTRE && k < DISTORTION_CENTRE + 2
        ? k - DISTORTION_CENTRE + CENTRE
        : k);
    const values = cameraValues(network, state, i);
    const terms = {} as Record<keyof Terms, { value: number; u: number }>;
    CAMERA_TERMS.forEach((term, k) => {
      if (!isReported(term)) return;
      const { priorMean, priorSigma } = network.table.list[own(k)];
      const isHeld = priorSigma <= HELD;
      terms[KEY[term]] = {
        value: isHeld ? priorMean : values[k],
        u: isHeld ? 0 : Math.sqrt(covariance[own(k) * n + own(k)]),
      };
    });
    return {
      widthPx: camera.widthPx,
      heightPx: camera.heightPx,
      photos: network.input.photos.filter((photo) => photo.camera === i).length,
      focalLengthFrom: camera.focalLengthPx === undefined ? 'search' : 'exif',
      ...terms,
    };
  });
}

function isReported(term: CameraTerm): term is ReportedCameraTerm {
  return term in KEY;
}
