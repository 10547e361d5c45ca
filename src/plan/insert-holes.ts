/** Holes for threaded inserts at chosen nodes: which ones, and the rings that cut them. */

import type { GridPlan, HoleRing, PlanLayout } from './grid-plan.js';
import type { InsertChoices } from './plan-choices.js';
import { roundTo, tidy } from './round-to.js';

/** Distance of neighbouring rings, in tool diameters. */
const RING_STEP = 0.4;
/** Finest length of the rings and passes, mm: finer than any hole, coarse enough for four decimals. */
const GRAIN_MM = 0.01;

/**
 * Holes at every so many nodes, from the second line on: the outermost lines stay whole, as
 * witnesses. The counterbore first, then the hole below it.
 */
export function layOutHoles(layout: PlanLayout, choices: InsertChoices): GridPlan['holes'] {
  const rings = ringsOf(layout, choices);
  const { x, y, spacing } = layout;
  const centres: [number, number][] = [];
  for (let row = 1; row < y.lines - 1; row += choices.every) {
    for (let column = 1; column < x.lines - 1; column += choices.every) {
      centres.push([x.first + column * spacing, y.first + row * spacing]);
    }
  }
  return centres.map(([cx, cy]) => ({ centre: [tidy(cx), tidy(cy)] as const, rings }));
}

/** The rings of one hole, in the program's units. */
export function ringsOf(layout: PlanLayout, choices: InsertChoices): HoleRing[] {
  const { counterbore } = choices;
  const upper =
    counterbore === undefined
      ? []
      : ringsFor(layout, choices, counterbore.diameterMm, 0, counterbore.depthMm);
  const lower = ringsFor(
    layout,
    choices,
    choices.holeDiameterMm,
    counterbore?.depthMm ?? 0,
    choices.holeDepthMm,
  );
  return [...upper, ...lower];
}

function ringsFor(
  { mmPerUnit }: PlanLayout,
  { toolDiameterMm, depthPerPassMm }: InsertChoices,
  diameterMm: number,
  fromMm: number,
  toMm: number,
): HoleRing[] {
  const widest = (diameterMm - toolDiameterMm) / 2;
  const turns = Math.ceil((toMm - fromMm) / depthPerPassMm - 1e-6);
  const units = (mm: number) => roundTo(mm / mmPerUnit, roundTo(GRAIN_MM / mmPerUnit, 0.0001));
  return ringRadii(widest, toolDiameterMm).map((radius) => ({
    radius: units(radius),
    fromDepth: units(fromMm),
    toDepth: units(toMm),
    turns,
  }));
}

/** From the inside out, none leaving an island: evenly spread up to the widest. */
function ringRadii(widestMm: number, toolMm: number): number[] {
  if (widestMm <= 0) return [0];
  const count = Math.ceil(widestMm / (RING_STEP * toolMm) - 1e-6);
  return Array.from({ length: count }, (_, k) => (widestMm * (k + 1)) / count);
}
