/** What a survey is asked and what it tells while it runs. */

import type { EvidenceFile } from '../../shared/schemas/evidence.js';
import type { MachineFile } from '../../shared/schemas/machine.js';
import type { Measurement } from '../../shared/schemas/measurement.js';
import type { CommandedView, NetworkCamera, ReportedCameraTerm } from '../network/index.js';
import type { OverlayContent } from '../report/index.js';

/** Corner of the picture as people see it where the commanded origin lies. */
export type OriginCorner = 'top-left' | 'top-right' | 'bottom-left' | 'bottom-right';

/** A length taped between the marks of two commanded crossings; mm. */
export interface KnownLength {
  readonly fromMm: readonly [x: number, y: number];
  readonly toMm: readonly [x: number, y: number];
  readonly lengthMm: number;
  /** Standard uncertainty; stands alone. */
  readonly uMm: number;
}

/** A program that marked the board, the record of its plan, or the bare numbers of a grid whose program is lost. */
export type MarkedBy =
  | { readonly kind: 'program'; readonly file: string }
  | { readonly kind: 'grid'; readonly file: string }
  | { readonly kind: 'lattice'; readonly spec: string };

/** A crossing that somebody found in a photo. */
export interface SeenCrossing {
  /** File name of the photo, or its path as given. */
  readonly photo: string;
  /** Pixel of the picture as people see it, from its top left corner. */
  readonly columnPx: number;
  readonly rowPx: number;
  /** Commanded position; mm. */
  readonly xMm: number;
  readonly yMm: number;
}

export interface SurveyRequest {
  readonly photoFiles: readonly string[];
  /** One placement each; none where points alone are measured, and their own grid will do. */
  readonly markedBy: readonly MarkedBy[];
  readonly marking: 'auto' | 'cutter' | 'laser';
  readonly blockDelete: boolean;
  readonly machine?: MachineFile;
  readonly evidence?: EvidenceFile;
  readonly known: readonly KnownLength[];
  /** CSV files of nodes that were measured on the board itself. */
  readonly pointsFiles?: readonly string[];
  readonly origin?: OriginCorner;
  readonly crossings?: readonly SeenCrossing[];
}

/** Points of the grid that other software found in photos, and what is taken for true beside them. */
export interface ImagePointsRequest
  extends Pick<
    SurveyRequest,
    'markedBy' | 'marking' | 'blockDelete' | 'machine' | 'evidence' | 'known'
  > {
  /** CSV file; its points bring their own grid where no program is named. */
  readonly imagePointsFile: string;
  /** Size of the pictures as the sensor took them, and the focal length where it is known. */
  readonly camera: NetworkCamera;
  /** Only these terms of the camera are adjusted, without priors and the same in all photos. */
  readonly cameraTerms?: readonly ReportedCameraTerm[];
  /** The marks lie where they were commanded: only the camera is measured. */
  readonly isGridKnown: boolean;
}

export interface SurveyProgress {
  /** 'reading', 'finding', 'measuring', 'adjusting', 'writing'. */
  readonly step: string;
  /** The photo in work, from 1, of `total`. */
  readonly done?: number;
  readonly total?: number;
  readonly what?: string;
}

/** Clock and listeners come from outside. */
export interface SurveyContext {
  readonly now: () => Date;
  readonly toolVersion: string;
  /** Threads that examine photos side by side; 1, or none stated: the caller's own, one photo after the other. */
  readonly workers?: number;
  readonly onProgress?: (progress: SurveyProgress) => void;
}

/** One photo with what is needed to draw pictures of it. */
export interface SurveyedPhoto {
  /** Path as given. */
  readonly path: string;
  /** Index into `measurement.photos`. */
  readonly index: number;
  readonly orientation: 1 | 2 | 3 | 4 | 5 | 6 | 7 | 8;
  readonly overlay: OverlayContent;
  /** Sensor pixel of a board position (mm), for the rectified picture; absent where nothing was adjusted. */
  readonly imageFromBoard?: (xMm: number, yMm: number) => readonly [u: number, v: number];
  /** The picture as it is stored as a view of machine coordinates; absent where nothing was adjusted. */
  readonly commandedView?: CommandedView;
  /** Board rectangle of the grid with its border, mm. */
  readonly boardExtentMm: {
    readonly x: readonly [number, number];
    readonly y: readonly [number, number];
  };
}

export interface Survey {
  readonly measurement: Measurement;
  /** Only the photos that were used. */
  readonly photos: readonly SurveyedPhoto[];
  /** Turns derivatives by the adjustment's parameters into those by independent variables of unit variance. */
  readonly whitened?: (byParameters: Float64Array) => Float64Array;
}
