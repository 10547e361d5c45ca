/** Which codes and letters are known here, and which of them are refused. G codes are times ten. */

/** G codes that change where marks lie in a way that is not followed. */
export const REFUSED_G: ReadonlyMap<number, string> = new Map([
  [160, 'polar coordinates'],
  [510, 'scaling or mirroring'],
  [511, 'scaling or mirroring'],
  [650, 'a macro call'],
  [660, 'a macro call'],
]);

/** A subprogram by line number: not followed. M98 and M99 are, elsewhere. */
export const LOCAL_CALL_M = 97;

export const DRILLING_G: ReadonlySet<number> = new Set([
  730, 760, 810, 820, 830, 840, 850, 860, 870, 880, 890,
]);
export const PROBING_G: ReadonlySet<number> = new Set([382, 383, 384, 385]);
export const MOTION_G: ReadonlySet<number> = new Set([
  0,
  10,
  20,
  30,
  330,
  800,
  ...DRILLING_G,
  ...PROBING_G,
]);

const KNOWN_G: ReadonlySet<number> = new Set([
  ...MOTION_G,
  // Without effect on where marks lie, but for the Z of tool lengths, which moves the surface along.
  40,
  150,
  430,
  431,
  490,
  500,
  610,
  611,
  640,
  // Modes.
  170,
  180,
  190,
  200,
  210,
  400,
  410,
  411,
  420,
  421,
  900,
  901,
  910,
  911,
  930,
  940,
  950,
  980,
  990,
  // Coordinates and machine positions.
  100,
  280,
  300,
  520,
  530,
  540,
  541,
  550,
  560,
  570,
  580,
  590,
  591,
  592,
  593,
  680,
  690,
  920,
  921,
  922,
  923,
]);

const KNOWN_M: ReadonlySet<number> = new Set([
  0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 30, 48, 49, 60, 98, 99,
]);

const KNOWN_LETTERS = 'DFHIJKLPQRSTXYZ';

export function isKnownG(code: number): boolean {
  return KNOWN_G.has(code);
}

export function isKnownM(code: number): boolean {
  return KNOWN_M.has(code);
}

export function isKnownLetter(letter: string): boolean {
  return KNOWN_LETTERS.includes(letter);
}
