/** Pictures of the sweep: each changes one thing of the base. */

import type { MarkedPicture, SharpProfile, Texture } from './straight-marks.js';

export interface Case {
  readonly title: string;
  readonly picture: Partial<MarkedPicture>;
  readonly axes?: readonly ('x' | 'y')[];
}

/** Depth in grey values of 150. */
const GREY = 150;

export function box(widthPx: number, depthGrey: number): SharpProfile {
  return (x) => (Math.abs(x) <= widthPx / 2 ? -depthGrey / GREY : 0);
}

/** A groove lit from one side: a bright wall and a dark one of unequal widths and strengths. */
export function groove(
  widthPx: number,
  brightGrey: number,
  darkGrey: number,
  brightShare = 0.4,
): SharpProfile {
  const split = -widthPx / 2 + brightShare * widthPx;
  return (x) => (Math.abs(x) > widthPx / 2 ? 0 : x < split ? brightGrey / GREY : -darkGrey / GREY);
}

const even =
  (profile: SharpProfile): MarkedPicture['profileAt'] =>
  () =>
    profile;

export const BASE: Omit<MarkedPicture, 'seed'> = {
  lines: 8,
  pitchMm: 20,
  pxPerMm: 4,
  rollDeg: 4,
  profileAt: even(box(3, 70)),
  blurPx: 1,
  boardGrey: GREY,
  noiseGrey: 3,
};

/** Wood: fine and coarse grain, long along one axis. */
export const GRAIN: Texture = {
  grey: 4,
  grainAlong: 'y',
  fields: [
    { alongPx: 30, acrossPx: 0.8 },
    { alongPx: 60, acrossPx: 2 },
    { alongPx: 90, acrossPx: 6 },
  ],
};

/** Board of chips or paint: the same in all directions. */
export const MOTTLE: Texture = {
  grey: 4,
  grainAlong: 'y',
  fields: [
    { alongPx: 0.8, acrossPx: 0.8 },
    { alongPx: 2, acrossPx: 2 },
    { alongPx: 6, acrossPx: 6 },
  ],
};

const wide = { pxPerMm: 8, lines: 6 };

export const CASES: readonly Case[] = [
  { title: 'base: 3 px wide, depth 70, blur 1, noise 3, 4°', picture: {} },
  ...[0, 17, 45, 90].map((rollDeg) => ({ title: `turned by ${rollDeg}°`, picture: { rollDeg } })),
  ...[1, 2, 6].map((w) => ({ title: `${w} px wide`, picture: { profileAt: even(box(w, 70)) } })),
  ...[12, 20, 30].map((w) => ({
    title: `${w} px wide`,
    picture: { ...wide, profileAt: even(box(w, 70)) },
  })),
  ...[3, 6, 12, 30].map((depth) => ({
    title: `depth ${depth}, noise 1`,
    picture: { profileAt: even(box(3, depth)), noiseGrey: 1 },
  })),
  { title: 'depth 3, noise 0.3', picture: { profileAt: even(box(3, 3)), noiseGrey: 0.3 } },
  { title: 'depth 10, noise 3', picture: { profileAt: even(box(3, 10)) } },
  ...[0.5, 2, 3].map((blurPx) => ({ title: `blur ${blurPx}`, picture: { blurPx } })),
  {
    title: '12 px wide, blur 3',
    picture: { ...wide, blurPx: 3, profileAt: even(box(12, 70)) },
  },
  ...[0.3, 1, 10, 20].map((noiseGrey) => ({ title: `noise ${noiseGrey}`, picture: { noiseGrey } })),
  {
    title: 'photon noise 6 of 150, depth 120',
    picture: { noiseGrey: 6, photonShare: 0.95, profileAt: even(box(4, 120)) },
  },
  { title: 'light falls by 40 %', picture: { lightFall: 0.4 } },
  { title: 'groove +50/-60, 5 px', picture: { profileAt: even(groove(5, 50, 60)) } },
  { title: 'groove +20/-60, 8 px', picture: { profileAt: even(groove(8, 20, 60)) } },
  { title: 'grain, along the marks', picture: { texture: GRAIN }, axes: ['x'] },
  { title: 'grain, across the marks', picture: { texture: GRAIN }, axes: ['y'] },
  {
    title: 'grain 8, depth 40, along',
    picture: { texture: { ...GRAIN, grey: 8 }, profileAt: even(box(3, 40)) },
    axes: ['x'],
  },
  {
    title: 'grain 8, depth 40, across',
    picture: { texture: { ...GRAIN, grey: 8 }, profileAt: even(box(3, 40)) },
    axes: ['y'],
  },
  { title: 'mottle 4', picture: { texture: MOTTLE } },
  { title: 'mottle 10', picture: { texture: { ...MOTTLE, grey: 10 } } },
  {
    title: 'mottle 4, 12 px wide',
    picture: { ...wide, texture: MOTTLE, profileAt: even(box(12, 70)) },
    axes: ['x'],
  },
];
