/** A laid-out grid: the numbers both kinds of program are written from, and the marks they make. */

import type { PlanChoices } from './plan-choices.js';

/** One axis of the layout; lengths in the program's units, coordinates from the origin of the work. */
export interface AxisLayout {
  /** Ends of the travel. */
  readonly low: number;
  readonly high: number;
  /** Commanded position of the first line. */
  readonly first: number;
  readonly lines: number;
  /** Of the rungs across this axis: they stand at first + k pitch. */
  readonly ladderPitch: number;
}

/** All lengths in the program's units. */
export interface PlanLayout {
  readonly mmPerUnit: number;
  readonly decimals: number;
  readonly x: AxisLayout;
  readonly y: AxisLayout;
  readonly spacing: number;
  readonly margin: number;
  /** The low margin is a multiple of this. */
  readonly marginStep: number;
  /** How far lines go beyond the outermost crossings. */
  readonly overhang: number;
  /** Run of the last move before a mark, across it and along it. */
  readonly run: number;
  readonly outlineInset: number;
  /** Least distance of a rung from a parallel line, and from the lines at its ends. */
  readonly ladderClearance: number;
  readonly rungEnd: number;
  /** Row of cells with the rungs across X, and column of cells with those across Y. */
  readonly ladderCell: number;
  /** First tick of a cell code from the cell's line, step of the ticks, their length, both rows. */
  readonly codeFirst: number;
  readonly codeStep: number;
  readonly codeLength: number;
  readonly codeRows: readonly [x: number, y: number];
  /** Of the origin mark, from the lines of its cells. */
  readonly origin: OriginLengths;
  readonly feed: number;
  readonly plungeFeed: number;
  readonly depth: number;
  readonly clearance: number;
  /** Second grid of a turned pair: other origin mark, no outline. */
  readonly placement: 'only' | 'first' | 'second' | 'fresh';
}

export interface OriginLengths {
  readonly low: number;
  readonly middle: number;
  readonly short: number;
  readonly high: number;
  /** Of an arrow's head, along either axis. */
  readonly head: number;
  /** Between the double strokes of a second grid. */
  readonly double: number;
}

export type PlannedKind = 'origin' | 'centre' | 'outline' | 'line' | 'rung' | 'code' | 'again';

export type Place = readonly [x: number, y: number];

/** One mark; coordinates in the program's units. */
export interface PlannedMark {
  readonly kind: PlannedKind;
  readonly from: Place;
  readonly to: Place;
  /** Sense of the last move across a mark that runs along an axis. */
  readonly sense: 1 | -1;
}

/** A hole: rings about a centre, each to a depth; lengths in the program's units. */
export interface PlannedHole {
  readonly centre: Place;
  readonly rings: readonly HoleRing[];
}

export interface HoleRing {
  /** Of the tool's centre; 0: straight down. */
  readonly radius: number;
  /** Depth at which the ring begins and at which it ends, both from 0 down, positive. */
  readonly fromDepth: number;
  readonly toDepth: number;
  /** Turns of the helix between them. */
  readonly turns: number;
}

export interface GridPlan {
  readonly choices: PlanChoices;
  readonly layout: PlanLayout;
  /** In order of marking. */
  readonly marks: readonly PlannedMark[];
  /** In order of cutting; empty without inserts. */
  readonly holes: readonly PlannedHole[];
}

/** Gap in the first line that is closed at the end: every third cell, but not where its halves meet. */
export const AGAIN_EVERY = 3;
export const AGAIN_CELL = 1;
/** Every third cell each way carries a code. */
export const CODE_EVERY = 3;
export const CODE_CELL = 1;
/** Enough for 63 columns and rows. */
export const CODE_BITS = 6;

/** Whether its lines lie half a spacing beside those of another grid, whose zero it keeps. */
export function isBeside({ placement }: Pick<PlanLayout, 'placement'>): boolean {
  return placement === 'second' || placement === 'fresh';
}
