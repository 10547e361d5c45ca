/** OpenCV as an oracle. It is loaded by `require`: its own types do not pass strict checks. */

import { createRequire } from 'node:module';

/** A C++ object: stays in memory until it is deleted. */
export interface CvMat {
  readonly rows: number;
  readonly cols: number;
  readonly data64F: Float64Array;
  delete(): void;
}

export interface CvMatVector {
  push_back(mat: CvMat): void;
  delete(): void;
}

export interface Cv {
  readonly CV_32FC2: number;
  readonly CV_32FC3: number;
  readonly CV_64FC2: number;
  readonly Mat: new () => CvMat;
  readonly MatVector: new () => CvMatVector;
  readonly Size: new (width: number, height: number) => unknown;
  readonly TermCriteria: new (type: number, maxCount: number, epsilon: number) => unknown;
  matFromArray(rows: number, cols: number, type: number, data: ArrayLike<number>): CvMat;
  findHomography(from: CvMat, to: CvMat): CvMat;
  calibrateCameraExtended(
    objectPoints: CvMatVector,
    imagePoints: CvMatVector,
    size: unknown,
    cameraMatrix: CvMat,
    distortion: CvMat,
    rotations: CvMatVector,
    translations: CvMatVector,
    deviationsIntrinsics: CvMat,
    deviationsExtrinsics: CvMat,
    perViewErrors: CvMat,
    flags?: number,
    criteria?: unknown,
  ): number;
}

export function loadOpenCv(): Cv {
  const require = createRequire(import.meta.url);
  const events = ['uncaughtException', 'unhandledRejection'] as const;
  const before = events.map((event) => process.listeners(event as 'uncaughtException'));
  const { cv } = require('opencv-wasm') as { cv: Cv & { then?: unknown } };
  // It would answer for every fault in the process, and wait for itself where it is awaited.
  for (const [i, event] of events.entries()) {
    for (const listener of process.listeners(event as 'uncaughtException')) {
      if (!before[i]!.includes(listener)) process.off(event, listener);
    }
  }
  delete cv.then;
  return cv;
}
