/** What both kinds of program say first: what it marks, where zero lies, what can hurt. */

import type { GridPlan } from './grid-plan.js';

const LAST_COMMENTS = [
  'first run: a hand on the stop, and in air or with the beam off',
  "the machine's manual and the local rules come before this file",
];

/** Plain ASCII without brackets inside: some controllers show comments, none may stumble over them. */
export function headerComments(plan: GridPlan, name: string): string[] {
  const { layout, choices } = plan;
  const { x, y } = layout;
  const unit = choices.units === 'mm' ? 'mm' : 'inch';
  const word = (value: number) => writeNumber(value, layout.decimals);
  const isLaser = choices.marking === 'laser';
  return [
    `${name}: ${x.lines} lines at constant X, ${y.lines} at constant Y, every ${word(layout.spacing)} ${unit}`,
    `zero X and Y ${word(-x.low)} ${unit} from the low end of X travel and ${word(-y.low)} ${unit} from the low end of Y travel`,
    `reaches from X${word(x.low)} to X${word(x.high)} and from Y${word(y.low)} to Y${word(y.high)}`,
    ...(layout.placement === 'fresh'
      ? ['fresh marks beside an old grid: keep its zero, home before']
      : []),
    ...(layout.placement === 'second'
      ? ['second grid of a turned board: keep the zero of the first one, home before']
      : []),
    isLaser
      ? 'laser: focus on the board, keep Z there. S is the power: try it on a scrap first'
      : `V-bit: zero Z on the board. Marks ${word(layout.depth)} ${unit} deep: skim the board flat first`,
    'G4 P means seconds here: a controller that counts milliseconds makes no pause',
    ...(isLaser
      ? [
          'LASER: eyewear for its wavelength for everybody present, extraction on',
          'LASER: never leave it unattended, extinguisher at hand, dust cleared first',
        ]
      : ['SPINDLE: eye and ear protection, dust extraction, the board clamped, nothing loose']),
    ...LAST_COMMENTS,
  ];
}

/** For a program that only cuts holes. */
export function spindleComments(): string[] {
  return [
    'SPINDLE: eye and ear protection, dust extraction, the board clamped, nothing loose',
    ...LAST_COMMENTS,
  ];
}

/** No more digits than the program carries, no trailing zeros, never an exponent. */
export function writeNumber(value: number, decimals: number): string {
  const digits = value.toFixed(decimals);
  const text = digits.includes('.') ? digits.replace(/\.?0+$/, '') : digits;
  return text === '-0' ? '0' : text;
}
