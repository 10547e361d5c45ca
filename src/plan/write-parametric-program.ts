/**
 * The program with its numbers at the top, loops and subroutines: an owner changes the travel in the
 * file and the grid follows. Needs the customary extensions of NISTIR 6556 that its header names.
 *
 * It computes the same marks as the written-out program, in the same order.
 */

import {
  AGAIN_CELL,
  AGAIN_EVERY,
  CODE_BITS,
  CODE_CELL,
  CODE_EVERY,
  type GridPlan,
  isBeside,
} from './grid-plan.js';
import { ringsOf } from './insert-holes.js';
import { headerComments, writeNumber } from './program-header.js';
import { KIND_COMMENTS, PAUSE_S, SPIN_UP_S } from './write-flat-program.js';

/** @param name what the program is called in its first line. */
export function writeParametricProgram(plan: GridPlan, name: string): string {
  const { choices, layout } = plan;
  const { placement } = layout;
  return `${[
    ...headerComments(plan, name).map((text) => `(${text})`),
    '(needs of the controller: numbered parameters, expressions, O words with SUB, CALL, WHILE, IF)',
    ...variables(plan),
    ...derived(plan),
    ...markSubroutines(plan),
    ...lineSubroutines(),
    choices.units === 'mm' ? 'G21 G90 G17 G94' : 'G20 G90 G17 G94',
    ...(choices.marking === 'laser'
      ? ['M3 S0']
      : ['G0 Z#121', `M3 S${choices.power}`, `G4 P${SPIN_UP_S}`]),
    ...originMark(plan),
    ...(placement === 'only' ? outline() : []),
    ...(placement === 'first' ? centreMark() : []),
    ...lines(0),
    ...lines(1),
    ...rungs(0),
    ...rungs(1),
    ...(choices.cellCodes ? codes() : []),
    `(${KIND_COMMENTS.again})`,
    'o60 call [0]',
    'o60 call [1]',
    ...(choices.marking === 'laser' ? ['M5 S0'] : ['M5', 'G0 Z#121']),
    ...(plan.holes.length > 0 ? insertStage(plan) : []),
    'G0 X0 Y0',
    'M2',
  ].join('\n')}\n`;
}

/** Numbers that the owner may change, and those that belong to the spacing. */
function variables({ choices, layout }: GridPlan): string[] {
  const set = (index: number, value: number, meaning: string) =>
    `#${index} = ${writeNumber(value, layout.decimals)} (${meaning})`;
  const { origin } = layout;
  return [
    '(change these for another machine or board:)',
    set(101, layout.x.high - layout.x.low, 'travel along X'),
    set(102, layout.y.high - layout.y.low, 'travel along Y'),
    set(103, layout.margin, 'least distance of the outermost lines from the ends of the travel'),
    set(104, layout.feed, 'feed of the marks, per minute'),
    set(
      105,
      choices.power,
      choices.marking === 'laser' ? 'power of the beam' : 'speed of the spindle',
    ),
    ...(choices.marking === 'cutter'
      ? [
          set(120, layout.depth, 'depth of the marks'),
          set(121, layout.clearance, 'height of travel over the board'),
          set(122, layout.plungeFeed, 'feed of the plunge'),
        ]
      : [set(121, layout.clearance, 'height of travel over the board, for holes')]),
    '(these belong together: with another spacing change all of them)',
    set(106, layout.spacing, 'spacing of the lines'),
    set(107, layout.overhang, 'how far lines go beyond the outermost crossings'),
    set(108, layout.run, 'run of the last move before a mark'),
    set(109, PAUSE_S, 'pause before a mark, seconds'),
    set(110, layout.outlineInset, 'outline from the ends of the travel'),
    set(
      111,
      layout.x.ladderPitch,
      'ladder across X: no simple fraction of the lead or the travel per turn',
    ),
    set(112, layout.y.ladderPitch, 'ladder across Y'),
    set(113, layout.ladderClearance, 'least distance of a rung from a line'),
    set(114, layout.rungEnd, 'ends of the rungs from the lines'),
    set(115, layout.ladderCell, 'row and column of cells with the ladders, counted from 0'),
    set(131, origin.low, 'lengths of the origin mark'),
    set(132, origin.middle, 'the same'),
    set(133, origin.short, 'the same'),
    set(134, origin.high, 'the same'),
    set(135, origin.head, 'the same'),
    set(136, origin.double, 'the same'),
    ...(choices.cellCodes
      ? [
          set(141, layout.codeFirst, 'first tick of a cell code from its line'),
          set(142, layout.codeStep, 'step of the ticks'),
          set(143, layout.codeLength, 'length of the ticks'),
          set(144, layout.codeRows[0], 'lower row of ticks'),
          set(145, layout.codeRows[1], 'upper row of ticks'),
        ]
      : []),
  ];
}

/** Counts of lines, first lines, ends of the travel. */
function derived({ layout }: GridPlan): string[] {
  const count = (travel: number) => `[FIX[[#${travel} - 2 * #103] / #106 + 0.0001] + 1]`;
  const low = (travel: number, lines: number) => {
    const step = writeNumber(layout.marginStep, layout.decimals);
    return `[0 - FIX[[#${travel} - [#${lines} - 1] * #106] / 2 / ${step} + 0.0001] * ${step}]`;
  };
  return [
    '(what follows from them:)',
    `#151 = ${count(101)} (lines at constant X)`,
    `#152 = ${count(102)} (lines at constant Y)`,
    ...(layout.placement === 'only' || layout.placement === 'fresh'
      ? []
      : [
          'o1 if [#152 LT #151]',
          '  #151 = #152',
          'o1 endif',
          '#152 = #151 (the board is turned: a square)',
        ]),
    `#153 = ${low(101, 151)} (low end of X travel)`,
    '#154 = [#153 + #101] (high end of X travel)',
    `#155 = ${low(102, 152)} (low end of Y travel)`,
    '#156 = [#155 + #102] (high end of Y travel)',
    '#157 = 0 (first line at constant X)',
    '#158 = 0 (first line at constant Y)',
    ...(isBeside(layout)
      ? ['#151 = [#151 - 1]', '#152 = [#152 - 1]', '#157 = [#106 / 2]', '#158 = [#106 / 2]']
      : []),
  ];
}

/** o10 along Y at #1 from #2 to #3, sense #4, run along #5; o11 along X; o12 slanting from #1 #2 to #3 #4. */
function markSubroutines({ choices }: GridPlan): string[] {
  const isLaser = choices.marking === 'laser';
  const along = (label: number, own: 'X' | 'Y', other: 'X' | 'Y') => {
    const head = [
      `(a mark along ${own}: place across, from, to, sense of the move before, run along)`,
      `o${label} sub`,
    ];
    const body = isLaser
      ? [
          `G0 ${other}[#1 - #4 * #108] ${own}[#2 - #5]`,
          `G1 ${other}#1 S0 F#104`,
          'G4 P#109',
          `G1 ${own}#2 S0`,
          `G1 ${own}#3 S#105`,
          `G1 ${own}[#3 + #5] S0`,
        ]
      : [
          `G0 ${other}[#1 - #4 * #108] ${own}#2`,
          `G1 ${other}#1 F#104`,
          'G4 P#109',
          'G1 Z[0 - #120] F#122',
          `G1 ${own}#3 F#104`,
          'G0 Z#121',
        ];
    return [...head, ...body.map((line) => `  ${line}`), `o${label} endsub`];
  };
  const slanting = isLaser
    ? [
        'G0 X[#1 - #108 * #5] Y[#2 - #108 * #6]',
        'G4 P#109',
        'G1 X#1 Y#2 S0 F#104',
        'G1 X#3 Y#4 S#105',
        'G1 X[#3 + #108 * #5] Y[#4 + #108 * #6] S0',
      ]
    : ['G0 X#1 Y#2', 'G4 P#109', 'G1 Z[0 - #120] F#122', 'G1 X#3 Y#4 F#104', 'G0 Z#121'];
  return [
    ...along(10, 'Y', 'X'),
    ...along(11, 'X', 'Y'),
    '(a slanting mark: from, to, its senses along X and Y)',
    'o12 sub',
    ...slanting.map((line) => `  ${line}`),
    'o12 endsub',
  ];
}

/** o20 any mark along an axis; o30 a half, with the gaps of the first line; o50 a line; o60 its gaps. */
function lineSubroutines(): string[] {
  return [
    '(axis across, place, from, to, sense)',
    'o20 sub',
    'o21 if [#1 EQ 0]',
    '  o10 call [#2] [#3] [#4] [#5] [#108]',
    'o21 else',
    '  o11 call [#2] [#3] [#4] [#5] [#108]',
    'o21 endif',
    'o20 endsub',
    '(half of the first line, but for its gaps: axis, place, from, to, sense, first crossing, crossings, cell where the halves meet, 1: the gaps alone)',
    'o30 sub',
    '#10 = #3',
    `#11 = ${AGAIN_CELL}`,
    'o31 while [#11 LT [#7 - 1]]',
    '  #12 = [#6 + #11 * #106]',
    '  o32 if [[#11 NE #8] AND [[#12 GE #3] AND [[#12 + #106] LE #4]]]',
    '    o33 if [#9 EQ 0]',
    '      o20 call [#1] [#2] [#10] [#12] [#5]',
    '    o33 else',
    '      o20 call [#1] [#2] [#12] [#12 + #106] [#5]',
    '    o33 endif',
    '    #10 = [#12 + #106]',
    '  o32 endif',
    `  #11 = [#11 + ${AGAIN_EVERY}]`,
    'o31 endwhile',
    'o34 if [#9 EQ 0]',
    '  o20 call [#1] [#2] [#10] [#4] [#5]',
    'o34 endif',
    'o30 endsub',
    '(one line: axis, its number from 0, 1: its gaps alone)',
    'o50 sub',
    'o51 if [#1 EQ 0]',
    '  #4 = [#157 + #2 * #106]',
    '  #5 = #158',
    '  #6 = #152',
    'o51 else',
    '  #4 = [#158 + #2 * #106]',
    '  #5 = #157',
    '  #6 = #151',
    'o51 endif',
    '#7 = [FIX[[#6 - 1] / 2] - [FIX[#2 / 2] MOD 2]]',
    '#8 = [#5 + [#7 + 0.5] * #106]',
    '#9 = [1 - 2 * [#2 MOD 2]]',
    '#10 = [#5 - #107]',
    '#11 = [#5 + [#6 - 1] * #106 + #107]',
    'o52 if [#2 EQ 0]',
    '  o30 call [#1] [#4] [#10] [#8] [#9] [#5] [#6] [#7] [#3]',
    '  o30 call [#1] [#4] [#8] [#11] [0 - #9] [#5] [#6] [#7] [#3]',
    'o52 else',
    '  o20 call [#1] [#4] [#10] [#8] [#9]',
    '  o20 call [#1] [#4] [#8] [#11] [0 - #9]',
    'o52 endif',
    'o50 endsub',
    '(the gaps of the first line: axis)',
    'o60 sub',
    'o50 call [#1] [0] [1]',
    'o60 endsub',
  ];
}

function originMark({ layout }: GridPlan): string[] {
  /** A place in a cell, such as low of the cell beside: `[#157 + #106 + #131]`. */
  const x = (cells: number, terms: string) => `[#157${cells === 1 ? ' + #106' : ''} + ${terms}]`;
  const y = (cells: number, terms: string) => `[#158${cells === 1 ? ' + #106' : ''} + ${terms}]`;
  const alongX = (at: string, from: string, to: string) =>
    `o11 call ${at} ${from} ${to} [1] [#108]`;
  const alongY = (at: string, from: string, to: string) =>
    `o10 call ${at} ${from} ${to} [1] [#108]`;
  const slanting = (places: readonly string[], senseX: number, senseY: number) =>
    `o12 call ${places.join(' ')} [${senseX}] [${senseY}]`;
  return [
    `(${KIND_COMMENTS.origin})`,
    alongX(y(0, '#131'), x(0, '#131'), x(0, '#134')),
    alongY(x(0, '#131'), y(0, '#131'), y(0, '#133')),
    slanting([x(0, '#134'), y(0, '#131'), x(0, '#131'), y(0, '#133')], -1, 1),
    alongX(y(0, '#132'), x(1, '#131'), x(1, '#134')),
    slanting([x(1, '#134 - #135'), y(0, '#132 - #135'), x(1, '#134'), y(0, '#132')], 1, 1),
    slanting([x(1, '#134 - #135'), y(0, '#132 + #135'), x(1, '#134'), y(0, '#132')], 1, -1),
    alongY(x(0, '#132'), y(1, '#131'), y(1, '#134')),
    slanting([x(0, '#132 - #135'), y(1, '#134 - #135'), x(0, '#132'), y(1, '#134')], 1, 1),
    slanting([x(0, '#132 + #135'), y(1, '#134 - #135'), x(0, '#132'), y(1, '#134')], -1, 1),
    alongX(y(1, '#131'), x(0, '#132 - #135'), x(0, '#132 + #135')),
    ...(isBeside(layout)
      ? [
          alongX(y(0, '#131 - #136'), x(0, '#131'), x(0, '#134')),
          alongY(x(0, '#131 - #136'), y(0, '#131'), y(0, '#133')),
          alongX(y(0, '#132 + #136'), x(1, '#131'), x(1, '#133')),
          alongY(x(0, '#132 + #136'), y(1, '#131'), y(1, '#133')),
        ]
      : []),
  ];
}

function outline(): string[] {
  const [left, right] = ['[#153 + #110]', '[#154 - #110]'];
  const [bottom, top] = ['[#155 + #110]', '[#156 - #110]'];
  return [
    `(${KIND_COMMENTS.outline})`,
    `o11 call ${bottom} ${left} ${right} [-1] [0]`,
    `o10 call ${right} ${bottom} ${top} [1] [0]`,
    `o11 call ${top} ${left} ${right} [1] [0]`,
    `o10 call ${left} ${bottom} ${top} [-1] [0]`,
  ];
}

function centreMark(): string[] {
  const [x, y] = ['#157 + [#151 - 1] * #106 / 2', '#158 + [#152 - 1] * #106 / 2'];
  return [
    `(${KIND_COMMENTS.centre})`,
    `o12 call [${x} - #135] [${y} - #135] [${x} + #135] [${y} + #135] [1] [1]`,
    `o12 call [${x} - #135] [${y} + #135] [${x} + #135] [${y} - #135] [1] [-1]`,
  ];
}

function lines(axis: 0 | 1): string[] {
  const count = axis === 0 ? '#151' : '#152';
  const label = 70 + 2 * axis;
  return [
    `(${KIND_COMMENTS.line}; constant ${axis === 0 ? 'X' : 'Y'}, even ones going out, odd ones coming back)`,
    '#160 = 0',
    `o${label} while [#160 LT ${count}]`,
    `  o50 call [${axis}] [#160] [0]`,
    '  #160 = [#160 + 2]',
    `o${label} endwhile`,
    `#160 = [${count} - 1]`,
    `o${label + 1} while [#160 GT 0]`,
    `  o${label + 10} if [[#160 MOD 2] EQ 1]`,
    `    o50 call [${axis}] [#160] [0]`,
    `  o${label + 10} endif`,
    '  #160 = [#160 - 1]',
    `o${label + 1} endwhile`,
  ];
}

function rungs(axis: 0 | 1): string[] {
  const [count, pitch, first, otherFirst] =
    axis === 0 ? ['#151', '#111', '#157', '#158'] : ['#152', '#112', '#158', '#157'];
  const label = 90 + 2 * axis;
  const from = `${otherFirst} + #115 * #106`;
  return [
    `(${KIND_COMMENTS.rung})`,
    '#160 = 1',
    `o${label} while [[#160 * ${pitch}] LT [[${count} - 1] * #106]]`,
    `  #161 = [#160 * ${pitch}]`,
    '  #162 = [ABS[#161 - ROUND[#161 / #106] * #106] + 0.000001]',
    `  o${label + 1} if [[#162 GE #113] AND [FIX[#161 / #106] NE #115]]`,
    `    o20 call [${axis}] [${first} + #161] [${from} + #114] [${from} + #106 - #114] [1]`,
    `  o${label + 1} endif`,
    '  #160 = [#160 + 1]',
    `o${label} endwhile`,
  ];
}

function codes(): string[] {
  return [
    `(${KIND_COMMENTS.code})`,
    '(row of ticks: column, row, height in the cell, number)',
    'o100 sub',
    '#5 = 0',
    `o101 while [#5 LT ${CODE_BITS}]`,
    '  o102 if [[FIX[#4 / [2 ** #5]] MOD 2] EQ 1]',
    '    #6 = [#158 + #2 * #106 + #3]',
    '    o10 call [#157 + #1 * #106 + #141 + #5 * #142] [#6] [#6 + #143] [1] [#108]',
    '  o102 endif',
    '  #5 = [#5 + 1]',
    'o101 endwhile',
    'o100 endsub',
    `#161 = ${CODE_CELL}`,
    'o103 while [#161 LT [#152 - 1]]',
    `  #160 = ${CODE_CELL}`,
    '  o104 while [#160 LT [#151 - 1]]',
    '    o105 if [[#161 NE #115] AND [#160 NE #115]]',
    '      o100 call [#160] [#161] [#144] [#160 + 1]',
    '      o100 call [#160] [#161] [#145] [#161 + 1]',
    '    o105 endif',
    `    #160 = [#160 + ${CODE_EVERY}]`,
    '  o104 endwhile',
    `  #161 = [#161 + ${CODE_EVERY}]`,
    'o103 endwhile',
  ];
}

function insertStage({ choices, layout }: GridPlan): string[] {
  const inserts = choices.inserts!;
  const word = (value: number) => writeNumber(value, layout.decimals);
  const calls = ringsOf(layout, inserts).map(
    ({ radius, fromDepth, toDepth, turns }) =>
      `      o110 call [#163] [#164] [${word(radius)}] [${word(fromDepth)}] [${word(toDepth)}] [${turns}]`,
  );
  return [
    'M1',
    '(optional stop: photograph the marks before anything is cut)',
    '(insert holes: the stage is left out while block delete is on)',
    '#119 = 0',
    '/#119 = 1',
    '(a ring of a hole: centre, radius of the path, from depth, to depth, turns)',
    'o110 sub',
    'G0 X[#1 + #3] Y#2',
    'o111 if [#3 EQ 0]',
    '  #7 = 1',
    '  o112 while [#7 LE #6]',
    `    G1 Z[0 - #4 - [#5 - #4] * #7 / #6] F${word(layout.plungeFeed)}`,
    '    G0 Z#121',
    '    #7 = [#7 + 1]',
    '  o112 endwhile',
    'o111 else',
    `  G1 Z[0 - #4] F${word(layout.plungeFeed)}`,
    '  #7 = 1',
    '  o113 while [#7 LE #6]',
    `    G3 X[#1 + #3] Y#2 I[0 - #3] J0 Z[0 - #4 - [#5 - #4] * #7 / #6] F${word(inserts.feedMmPerMin / layout.mmPerUnit)}`,
    '    #7 = [#7 + 1]',
    '  o113 endwhile',
    '  G3 X[#1 + #3] Y#2 I[0 - #3] J0',
    '  G0 Z#121',
    'o111 endif',
    'o110 endsub',
    'o120 if [#119 EQ 1]',
    '  M0',
    '  (stop: laser off and out of its mode, fit the end mill, zero Z on the board)',
    '  G0 Z#121',
    `  M3 S${inserts.spindleSpeed}`,
    `  G4 P${SPIN_UP_S}`,
    '  #161 = 1',
    '  o121 while [#161 LT [#152 - 1]]',
    '    #160 = 1',
    '    o122 while [#160 LT [#151 - 1]]',
    '      #163 = [#157 + #160 * #106]',
    '      #164 = [#158 + #161 * #106]',
    ...calls,
    `      #160 = [#160 + ${inserts.every}]`,
    '    o122 endwhile',
    `    #161 = [#161 + ${inserts.every}]`,
    '  o121 endwhile',
    '  M5',
    'o120 endif',
  ];
}
