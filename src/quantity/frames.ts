/** Frames of reference. Points of different frames are different types, so that they cannot be mixed. */

declare const frame: unique symbol;

/** Commanded work coordinates, mm, right-handed (ISO 841). */
export type CommandedPoint = readonly [xMm: number, yMm: number] & {
  readonly [frame]?: 'commanded';
};

/** True position on the board, mm; X along the mean true direction of X travel. */
export type BoardPoint = readonly [xMm: number, yMm: number] & { readonly [frame]?: 'board' };

/** Sensor pixel: u right, v down, centre of the first pixel (0, 0); before any EXIF rotation. */
export type SensorPoint = readonly [uPx: number, vPx: number] & { readonly [frame]?: 'sensor' };
