/** What an overlay picture shows of one photo; everything in sensor pixels. */

/** A mark as it was measured, beside where the adjusted machine and camera put it. */
export interface OverlayMark {
  /** The axis across which the mark tells something: 'x' for a line at constant X. */
  readonly axis: 'x' | 'y';
  /** Where it was seen; px. */
  readonly u: number;
  readonly v: number;
  /** Unit vector across the mark; a residual counts along it. */
  readonly normalU: number;
  readonly normalV: number;
  /** Observed minus computed; px. */
  readonly residualPx: number;
  readonly used: boolean;
}

/** A predicted line of the grid as the lens bends it. */
export interface OverlayLine {
  readonly axis: 'x' | 'y';
  /** The program that marked it. */
  readonly placement: number;
  /** Commanded: where it lies across, and from where to where its points run evenly; mm. */
  readonly positionMm: number;
  readonly fromMm: number;
  readonly toMm: number;
  readonly points: readonly (readonly [u: number, v: number])[];
}

/** One of the four outermost commanded crossings. */
export interface OverlayCorner {
  /** Commanded; mm. */
  readonly x: number;
  readonly y: number;
  /** Sensor pixel. */
  readonly u: number;
  readonly v: number;
}

export interface OverlayContent {
  /** Size of the sensor's picture. */
  readonly widthPx: number;
  readonly heightPx: number;
  readonly lines: readonly OverlayLine[];
  readonly marks: readonly OverlayMark[];
  readonly corners: readonly OverlayCorner[];
  readonly caption: string;
}
