/** Linear thermal expansion of what machines, boards, tapes and rules are made of. */

export interface Expansion {
  /** Relative change of length per kelvin. */
  readonly perK: number;
  /** Half the width of the range within which it lies. */
  readonly halfWidthPerK: number;
}

/** Alloys of one name differ by about this part. Common practice, no source. */
const USUAL_SPREAD = 0.1;

function usual(perK: number): Expansion {
  return { perK, halfWidthPerK: USUAL_SPREAD * perK };
}

/** The middle of a range that was published. */
function between(least: number, most: number): Expansion {
  return { perK: (least + most) / 2, halfWidthPerK: (most - least) / 2 };
}

/**
 * Source: Callister, Materials Science and Engineering, table B.6, where nothing else is said. Stainless
 * steel: grades 440A to 304. Gauge steel: JCGM 100:2008 (GUM), H.1. Granite: makers of surface plates.
 */
export const EXPANSION = {
  steel: usual(11.7e-6),
  'gauge steel': usual(11.5e-6),
  'stainless steel': between(10.2e-6, 17.2e-6),
  'cast iron': usual(11.4e-6),
  aluminium: usual(23.6e-6),
  glass: usual(9.0e-6),
  granite: usual(7.9e-6),
  acrylic: between(90e-6, 162e-6),
  pvc: between(90e-6, 180e-6),
  hdpe: between(106e-6, 198e-6),
} as const satisfies Record<string, Expansion>;

export type Material = keyof typeof EXPANSION;
export const MATERIALS = Object.keys(EXPANSION) as [Material, ...Material[]];

/**
 * Boards of wood follow moisture rather than temperature, often the other way: their expansion corrects
 * nothing, it only bounds. Wood along the grain 3.8e-6 to 5.9e-6 (Callister, B.6), MDF 8e-6 to 12e-6 (from
 * memory).
 */
export const WOOD_MOST_PER_K = 12e-6;
/** A board of which nobody said what it is made of: no more than aluminium. */
export const UNKNOWN_BOARD_MOST_PER_K = 24e-6;

/** Temperature at which lengths hold (ISO 1:2016), °C. */
export const REFERENCE_TEMPERATURE = 20;
