/** What temperatures make of lengths: of a tape, of the board between marking and photographing, of the machine. */

import type { Estimate } from '../../shared/schemas/measurement.js';
import { COVERAGE_FACTOR } from '../../shared/schemas/measurement.js';
import {
  EXPANSION,
  type Expansion,
  type Material,
  REFERENCE_TEMPERATURE,
  UNKNOWN_BOARD_MOST_PER_K,
  WOOD_MOST_PER_K,
} from '../../shared/thermal-expansion.js';
import { RECTANGULAR } from './widen-quantity.js';

/** A ratio of two lengths, and its relative standard uncertainty. */
export interface Stretch {
  readonly factor: number;
  readonly u: number;
}

/** Half widths of rectangular distributions (GUM 4.3.7), K. A thermometer that somebody read beside it. */
const STATED_K = 1;
/** Tape or rule beside a board whose temperature was read. */
const BESIDE_BOARD_K = 2;
/** A workshop of which nobody read the temperature. Common practice, no source. */
const UNKNOWN_K = 5;
/** A tape or rule of which nobody said what it is made of is of steel, but may be of another kind or of glass fibre. */
const UNSTATED_STANDARD: Expansion = {
  perK: EXPANSION.steel.perK,
  halfWidthPerK: EXPANSION.steel.perK / 2,
};
const WOODEN = /wood|mdf|hdf|ply|osb|chipboard|particle|hardboard|beech|oak|pine|birch|spruce/i;

/**
 * True length over length read: a graduation is right at 20 °C, and a warmer one reads short.
 *
 * @param own temperature of the tape, rule or instrument itself, °C.
 * @param beside of the board that it lies on; counts where its own is not stated.
 * Source: ISO 1:2016 (20 °C); GUM 5.1.2 for the uncertainty of a product.
 */
export function standardStretch(
  material: Material | undefined,
  own: number | undefined,
  beside?: number,
): Stretch {
  const expansion = material === undefined ? UNSTATED_STANDARD : EXPANSION[material];
  const temperature = own ?? beside;
  if (temperature === undefined) {
    return { factor: 1, u: (expansion.perK * UNKNOWN_K) / RECTANGULAR };
  }
  const halfWidthK = own === undefined ? BESIDE_BOARD_K : STATED_K;
  return expand(expansion, temperature - REFERENCE_TEMPERATURE, halfWidthK / RECTANGULAR);
}

/**
 * Length on the board when it was photographed over the length when it was marked. Wood follows moisture more
 * than temperature, so it is not corrected; what it could have grown is its uncertainty.
 *
 * @param material of the board, in the owner's words.
 * @returns 1 with no uncertainty where one of the temperatures is not known: then nothing speaks for a change.
 */
export function boardSwell(
  material: string | undefined,
  markedAt: number | undefined,
  photographedAt: number | undefined,
): Stretch {
  if (markedAt === undefined || photographedAt === undefined) return { factor: 1, u: 0 };
  const change = photographedAt - markedAt;
  const known = materialOf(material);
  if (known !== undefined) {
    return expand(EXPANSION[known], change, Math.SQRT2 * (STATED_K / RECTANGULAR));
  }
  const most =
    material !== undefined && WOODEN.test(material) ? WOOD_MOST_PER_K : UNKNOWN_BOARD_MOST_PER_K;
  return { factor: 1, u: (most * Math.abs(change)) / RECTANGULAR };
}

/**
 * The scale that the same steps per unit have with the machine at 20 °C: what carries the scale, a screw or
 * a rack, is shorter there by its expansion.
 *
 * @param scale ratio, (true - commanded) / commanded, at `markedAt`, °C.
 */
export function reduceTo20(scale: Estimate, material: Material, markedAt: number): Estimate {
  const grown = expand(
    EXPANSION[material],
    markedAt - REFERENCE_TEMPERATURE,
    STATED_K / RECTANGULAR,
  );
  const u = Math.hypot(scale.u, grown.u);
  return {
    value: (1 + scale.value) / grown.factor - 1,
    unit: scale.unit,
    u,
    k: COVERAGE_FACTOR,
    U: COVERAGE_FACTOR * u,
    state: scale.state,
  };
}

/** The material of the table that somebody's words name; undefined: none. */
export function materialOf(words: string | undefined): Material | undefined {
  const name = words
    ?.trim()
    .toLowerCase()
    .replace(/^alumin(i)?um\b.*/, 'aluminium');
  return name !== undefined && Object.hasOwn(EXPANSION, name) ? (name as Material) : undefined;
}

function expand({ perK, halfWidthPerK }: Expansion, change: number, uChange: number): Stretch {
  return {
    factor: 1 + perK * change,
    u: Math.hypot(perK * uChange, (halfWidthPerK / RECTANGULAR) * change),
  };
}
