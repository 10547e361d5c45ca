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
}
