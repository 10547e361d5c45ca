/** The commanded marks of a program, as the library reads them and as the scene generator draws them. */

/** Sense of the last motion along an axis; 0 where the program has not moved that axis yet. */
export type Approach = -1 | 0 | 1;

/**
 * One straight mark, made in one go with one approach of each axis.
 * Positions are commanded work coordinates, mm, right-handed (ISO 841).
 */
export interface Stroke {
  /** Index in order of marking, from 0. */
  readonly id: number;
  readonly fromMm: readonly [x: number, y: number];
  readonly toMm: readonly [x: number, y: number];
  /** Sense of the last X motion before or during the mark. */
  readonly approachX: Approach;
  /** Sense of the last Y motion before or during the mark. */
  readonly approachY: Approach;
  /** Line of the program text that made the mark, from 1. */
  readonly sourceLine: number;
  /** mm/min; undefined where the program does not tell. */
  readonly feedMmPerMin?: number | undefined;
  /** The S word in force; undefined where the program does not tell. */
  readonly power?: number | undefined;
}

/** One width of a hole. */
export interface HoleStep {
  /** Diameter of the circle that the tool's centre goes round, mm; 0 where it goes straight down. */
  readonly pathDiameterMm: number;
  /** Deepest Z of the tool's tip, mm; undefined where the program does not tell, or a beam cuts. */
  readonly bottomMm: number | undefined;
}

/**
 * A round hole. The diameter of the tool is not in the program: a hole is wider than its path by it.
 * Positions are commanded work coordinates, mm, as those of strokes.
 */
export interface Hole {
  /** Index in order of first appearance, from 0. */
  readonly id: number;
  readonly centreMm: readonly [x: number, y: number];
  /** Milled where any of its steps goes round a circle. */
  readonly kind: 'drilled' | 'milled';
  /** In order of first appearance, one for each path diameter; never empty. */
  readonly steps: readonly HoleStep[];
  /** Sense of the last X motion before the hole. */
  readonly approachX: Approach;
  /** Sense of the last Y motion before the hole. */
  readonly approachY: Approach;
  /** Line of the program text that began the hole, from 1. */
  readonly sourceLine: number;
}
