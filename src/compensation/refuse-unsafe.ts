/** What a program holds that cannot be compensated without going wrong: line by line, with what to do. */

import {
  areRelated,
  isKnownLetter,
  MOTION_G,
  type Place,
  PROBING_G,
  type TracedLine,
} from '../program/index.js';

export interface Refusal {
  /** From 1. */
  readonly line: number;
  readonly what: string;
  readonly hint: string;
}

const PLAIN = 'let the generator write plain G0 to G3 moves';
const COMPENSATION = new Map([
  [410, 'G41'],
  [411, 'G41.1'],
  [420, 'G42'],
  [421, 'G42.1'],
]);
/** Letters of other axes than X, Y and Z. */
const OTHER_AXES = ['A', 'B', 'C', 'E', 'U', 'V', 'W'];

/**
 * @param datum the coordinates in which the program is compensated.
 * @returns in order of the lines; each line and reason once.
 */
export function refuseUnsafe(lines: readonly TracedLine[], datum: Place): Refusal[] {
  const found = new Map<string, Refusal>();
  for (const traced of lines) {
    for (const [what, hint] of reasonsOf(traced, datum)) {
      const line = traced.index + 1;
      found.set(`${line} ${what}`, { line, what, hint });
    }
  }
  return [...found.values()].sort((one, other) => one.line - other.line);
}

type Reason = readonly [what: string, hint: string];

function reasonsOf(traced: TracedLine, datum: Place): Reason[] {
  const { block, scanned } = traced;
  const namesXY = block.values.has('X') || block.values.has('Y');
  const moves = traced.motions.length > 0;
  const reasons: Reason[] = [];
  for (const [code, name] of COMPENSATION) {
    if (!block.g.has(code)) continue;
    const hint = 'let the generator write the path of the tool itself, then compensate that';
    reasons.push([`cutter radius compensation (${name})`, hint]);
  }
  if (traced.isRotated && (moves || block.g.has(680))) {
    const hint = 'let the generator turn the part, not the controller';
    reasons.push(['coordinates turned by G68', hint]);
  }
  if (block.g.has(530) && namesXY) {
    const hint = 'take X and Y out of it: machine coordinates are not those of the grid';
    reasons.push(['a move to machine coordinates (G53) in X or Y', hint]);
  }
  if (traced.motionCode !== undefined && PROBING_G.has(traced.motionCode) && moves) {
    const hint = 'probe in a program of its own: what is found is where the machine really stands';
    reasons.push(['probing (G38)', hint]);
  }
  if ((block.g.has(280) || block.g.has(300)) && namesXY && !staysOnTheWay(traced)) {
    const hint = 'write G91 G28 X0 Y0, or no X and Y';
    reasons.push(['an intermediate point in X or Y on the way to the reference (G28, G30)', hint]);
  }
  if (block.g.has(930)) reasons.push(['inverse time feed (G93)', 'write feeds per minute (G94)']);
  if (block.g.has(40) && [...'XYZ'].some((letter) => block.values.has(letter))) {
    reasons.push(['a dwell (G4) with an axis word', 'write the time as P']);
  }
  if (scanned.blockDelete && affectsPath(traced)) {
    const hint = 'take the / or the line out: the path behind it depends on a switch';
    reasons.push(['a line with / that moves or changes modes', hint]);
  }
  if (moves) reasons.push(...reasonsOfMove(traced, datum, namesXY));
  return reasons;
}

/** An incremental way by 0 is none. */
function staysOnTheWay({ block, isIncremental }: TracedLine): boolean {
  return isIncremental && (block.values.get('X') ?? 0) === 0 && (block.values.get('Y') ?? 0) === 0;
}

function affectsPath({ block, scanned, motions }: TracedLine): boolean {
  return (
    block.g.size > 0 ||
    motions.length > 0 ||
    scanned.flow !== undefined ||
    scanned.settings.length > 0 ||
    block.m.has(98) ||
    block.m.has(99) ||
    [...'XYZIJKR'].some((letter) => block.values.has(letter))
  );
}

function reasonsOfMove(traced: TracedLine, datum: Place, namesXY: boolean): Reason[] {
  const { block, motions, motionCode, plane } = traced;
  const reasons: Reason[] = [];
  const others = OTHER_AXES.filter((letter) => block.values.has(letter));
  if (others.length > 0) {
    const what = `a move of another axis (${others.join(', ')}) with X, Y or Z`;
    reasons.push([what, 'move it on a line of its own']);
  }
  for (const letter of block.values.keys()) {
    if (isKnownLetter(letter) || others.includes(letter)) continue;
    reasons.push([`a move with a word of unknown meaning (${letter})`, PLAIN]);
  }
  if (motionCode === 330) reasons.push(['thread cutting (G33)', PLAIN]);
  const [first] = motions;
  if (first === undefined || first.kind === 'other') {
    // Along Z in a tilted plane the reader gives up: the drill may go anywhere.
    const isTilted = plane !== 170 && isCycle(motionCode);
    if (isTilted) reasons.push(['a drilling cycle outside the XY plane', 'write G17 before it']);
    return reasons;
  }
  if (!namesXY && first.kind !== 'arc') return reasons;
  if (first.kind === 'arc' && block.values.has('R') && namesCentre(traced)) {
    reasons.push(['an arc with a centre and a radius', 'keep one of them: controllers differ']);
  }
  if (motions.some(({ to }) => to[0] === undefined || to[1] === undefined)) {
    const hint = 'name X and Y together in the first move, and behind a reference move';
    reasons.push(['X or Y is not known here, and each depends on the other', hint]);
  } else if (motions.some(({ conditions }) => !areRelated(conditions.place, datum))) {
    const hint = 'split the program: compensate each part with its own --origin';
    reasons.push(['coordinates whose relation to the first ones is not in the program', hint]);
  } else if (first.kind === 'arc' && first.shape === undefined) {
    reasons.push(['an arc from an unknown place', 'name its start in all axes first']);
  }
  return reasons;
}

function namesCentre({ block }: TracedLine): boolean {
  return [...'IJK'].some((letter) => block.values.has(letter));
}

function isCycle(code: number | undefined): boolean {
  return code !== undefined && MOTION_G.has(code) && (code === 730 || code === 760 || code > 800);
}
