/** The sheet that goes to the machine: tool, order of work, what to check, what can hurt. */

import { type GridPlan, isBeside } from './grid-plan.js';
import { gridCentre } from './origin-mark.js';
import { writeNumber } from './program-header.js';

export interface CutSheetContent {
  /** The grid, or the first and the second one. */
  readonly plans: readonly GridPlan[];
  /** Names of their programs, in the same order. */
  readonly programs: readonly string[];
  readonly isParametric: boolean;
}

const WIDTH = 78;

/** Plain text, so that any machine's computer shows it and any printer prints it. */
export function cutSheet({ plans, programs, isParametric }: CutSheetContent): string {
  const [plan] = plans as readonly [GridPlan, ...GridPlan[]];
  const isTurned = plans.length > 1;
  const sections: [string, readonly string[]][] = [
    ['What is marked', plans.flatMap((one, i) => describePlan(one, programs[i]!))],
    ['Before', before(plan, isParametric)],
    ['Order of work', orderOfWork(plans, programs)],
    ['What to check', checks(plan, isTurned)],
    ['Afterwards', afterwards(plan, isTurned, programs)],
    ['Cautions', cutCautions(plan)],
  ];
  return `${sections.map(([title, lines]) => [title, '-'.repeat(title.length), ...lines.map((line, i) => item(line, title === 'Order of work' ? `${i + 1}.` : '-'))].join('\n')).join('\n\n')}\n`;
}

function describePlan({ layout, choices, marks, holes }: GridPlan, program: string): string[] {
  const { length } = writers(layout.mmPerUnit, layout.decimals);
  const { x, y } = layout;
  const burnt = marks.reduce(
    (sum, { from, to }) => sum + Math.hypot(to[0] - from[0], to[1] - from[1]),
    0,
  );
  const again = marks.filter(({ kind }) => kind === 'again').length;
  const ladder = marks.filter(({ kind }) => kind === 'rung').length;
  return [
    `${program}: ${x.lines} lines at constant X and ${y.lines} at constant Y, every ${length(layout.spacing)}; ${marks.length} marks, ${writeNumber((burnt * layout.mmPerUnit) / 1000, 1)} m in all.`,
    isBeside(layout)
      ? 'It keeps X0 Y0 of the first grid; its lines lie half a spacing beside.'
      : `X0 Y0 is the crossing of the first lines: ${length(-x.low)} from the low end of X travel, ${length(-y.low)} from the low end of Y travel. The travel then reaches from X ${length(x.low)} to ${length(x.high)} and from Y ${length(y.low)} to ${length(y.high)}.`,
    `Lines in two halves reached from opposite sides show lost motion; ${ladder} short strokes every ${length(x.ladderPitch)} (X) and ${length(y.ladderPitch)} (Y) show errors that repeat with a turn of the drive; ${again} parts of the first lines, left out and marked at the end, show what creeps meanwhile.`,
    ...(choices.cellCodes
      ? [
          'Ticks in every third cell tell which cell it is: lower row its column, upper row its row, counted from 1; from the left a tick counts 1, 2, 4, 8, 16, 32.',
        ]
      : []),
    ...(holes.length > 0
      ? [
          `${holes.length} holes for inserts, second stage of the program. The outermost lines get none: they stay as witnesses.`,
        ]
      : []),
  ];
}

function before({ layout, choices }: GridPlan, isParametric: boolean): string[] {
  const { length } = writers(layout.mmPerUnit, layout.decimals);
  return [
    'Machine warm and homed; all axes run once over their travel. Note the settings as they are.',
    layout.placement === 'fresh'
      ? 'Do not skim, sand or wash the board: it carries the old grid. Vacuum it.'
      : 'Skim the bed or the board flat first: a bowed board shows as a bent line, and a V-bit cuts wide and narrow on it.',
    choices.marking === 'laser'
      ? 'Laser: lens clean, focused on the board. Try power and feed on a scrap: a fine, even, dark line.'
      : `V-bit of ${writeNumber(choices.bitAngleDeg, 0)} degrees, sharp: ${length(layout.depth)} deep makes lines ${length(2 * layout.depth * Math.tan((choices.bitAngleDeg * Math.PI) / 360))} wide. One tool for the whole grid.`,
    'Board dust-free, clamped or screwed so that it cannot creep; nothing loose on the bed.',
    ...(isParametric
      ? [
          'The program has loops and parameters: see that the controller knows the words its header names.',
        ]
      : [
          'The program has plain words alone. G4 P counts seconds; where a controller counts milliseconds, the pauses are lost.',
        ]),
  ];
}

function orderOfWork(plans: readonly GridPlan[], programs: readonly string[]): string[] {
  const [plan] = plans as readonly [GridPlan, ...GridPlan[]];
  if (plans.length > 1) return turnedSteps(plans, programs);
  return plan.layout.placement === 'fresh' ? freshSteps(programs[0]!) : steps(plan, programs[0]!);
}

function freshSteps(program: string): string[] {
  return [
    'Leave the board where it is, or lay it back as it lay, within a millimetre and a tenth of a degree; home; set the same X0 Y0 as for the old grid.',
    'First in air: beam off, or Z set high. A hand on the stop.',
    `Run ${program} on the board that carries the old grid. Its lines fall midway between the old ones; its origin mark has double strokes.`,
    'Photograph both grids together: two photos at each quarter turn of the phone, from straight above.',
  ];
}

function steps({ layout, holes }: GridPlan, program: string): string[] {
  const { length } = writers(layout.mmPerUnit, layout.decimals);
  return [
    `Jog to the low ends of both travels, then ${length(-layout.x.low)} along X and ${length(-layout.y.low)} along Y: set X0 Y0 there.`,
    `Look at preview.svg and, where the program was changed: gantrue plan --check ${program}.`,
    'First in air: beam off, or Z set high. A hand on the stop.',
    ...(holes.length > 0
      ? [
          'Block delete ON: marks alone. With block delete OFF and optional stop ON it stops after the marks for the photographs, and once more for the tool.',
          'Photograph the marks before anything is cut. Holes for a grid that stands already: inserts.ngc, the second stage alone.',
          'At the stop for the tool: laser off and out of its mode, end mill in, Z zero on the board.',
        ]
      : []),
    'Let it run to the end without feed override or pause: all marks at one speed.',
  ];
}

/** Evans, Hocken, Estler, Self-calibration: reversal, redundancy, error separation, CIRP Annals 45/2 (1996). */
function turnedSteps(plans: readonly GridPlan[], programs: readonly string[]): string[] {
  const [first, second] = plans as [GridPlan, GridPlan];
  const { length } = writers(first.layout.mmPerUnit, first.layout.decimals);
  const [cx, cy] = gridCentre(first.layout);
  const side = (first.layout.x.lines - 1) * first.layout.spacing + 2 * first.layout.overhang;
  const [sx, sy] = gridCentre(second.layout);
  return [
    `Take a loose flat board of ${length(side)} square or more that does not bend when it is turned. Clamp it; jog to the low ends of both travels, then ${length(-first.layout.x.low)} along X and ${length(-first.layout.y.low)} along Y: set X0 Y0 there and leave it so to the end.`,
    'Each program first in air: beam off, or Z set high. A hand on the stop.',
    `Run ${programs[0]}. It marks a slanting cross at the centre, X${writeNumber(cx, 3)} Y${writeNumber(cy, 3)}.`,
    'Send the gantry to the far end of its travel, clear of the board. Beam off and locked, or spindle off and tool out, before anybody touches the board. The drives stay on and hold the gantry, an emergency stop in reach: homing anew may square a gantry with two drives otherwise, and that is what is measured. Whoever has to reach under the gantry isolates the power first, and then begins anew with a fresh board.',
    `Unclamp the board, turn it a quarter turn (left or right, no matter; a half turn tells nothing). Bring the centre cross back under the tool (its tip, the nozzle or a pilot beam shows the place; hands off while it moves) at X${writeNumber(sx, 3)} Y${writeNumber(sy, 3)}, within ${length(first.layout.spacing / 8)}; three degrees off a quarter turn do no harm. Clamp it.`,
    `Run ${programs[1]}. Its lines fall between those of the first grid; its origin mark has double strokes.`,
    'Nothing else is changed between the two: same tool, same feed, same zero, machine warm.',
    'Photograph both grids together, the whole board in the picture.',
  ];
}

function checks({ layout }: GridPlan, isTurned: boolean): string[] {
  return [
    'All lines whole and even; halves meet without a gap of more than a line’s width.',
    'The origin mark: a triangle with its right angle at X0 Y0 and the longer leg along X, an arrow toward +X, an arrow toward +Y with a bar at its foot.',
    ...(isTurned || layout.placement !== 'only'
      ? []
      : ['The outline closes at its corners: where it does not, steps were lost.']),
    'The parts marked last lie on the first lines: a step there means lost steps or warming.',
  ];
}

function afterwards(
  { choices, layout }: GridPlan,
  isTurned: boolean,
  programs: readonly string[],
): string[] {
  const isFresh = layout.placement === 'fresh';
  const records = isTurned
    ? '--grid first.json --grid second.json'
    : isFresh
      ? '--grid OLD.json --grid fresh.json'
      : '--grid plan.json';
  return [
    choices.marking === 'laser'
      ? 'Beam off and locked before anybody leans over the bed with a phone.'
      : 'Spindle off, tool out before anybody leans over the bed with a phone; vacuum the grooves.',
    ...(isTurned
      ? [
          'One photo of the whole board, by any phone and held anyhow, tells squareness and the ratio of the scales; a second one makes sure.',
          'Straightness wants eight more: from straight above, two of each quarter turn of the phone, main lens, no zoom.',
        ]
      : [
          'Eight photos from straight above, two of each quarter turn of the phone, main lens, no zoom.',
        ]),
    `Then: gantrue measure PHOTOS ${records} (or --program ${[...(isFresh ? ['OLD.ngc'] : []), ...programs].join(' --program ')}).`,
    'Keep the record and the program with the board: without them the grid says little.',
  ];
}

/** Common practice; laser classes after IEC 60825-1, from memory. */
export function cutCautions({ choices, holes }: GridPlan): string[] {
  const isLaser = choices.marking === 'laser';
  return [
    ...(isLaser
      ? [
          'Open laser heads are class 4 (IEC 60825-1): eyewear for its wavelength for everybody in the room, no shiny things in the beam, doors closed.',
          'Extraction on: the smoke of glue and wood is poisonous. Never unattended, extinguisher at hand, dust cleared away first: fire.',
        ]
      : []),
    ...(!isLaser || holes.length > 0
      ? [
          'Spindle: eye and ear protection, no gloves, sleeves and hair tied back, dust extraction: dust of MDF and hardwood harms the lungs.',
          'Workholding: clamps and screws outside the path; a hole deeper than the board cuts into the bed.',
        ]
      : []),
    'Before hands go under the gantry: beam and spindle off, tool out, power isolated and locked out; an emergency stop does not isolate.',
    'The machine’s manual, the local rules and licensed practice come before this sheet.',
  ];
}

function writers(mmPerUnit: number, decimals: number) {
  const unit = mmPerUnit === 1 ? 'mm' : 'in';
  return { length: (value: number) => `${writeNumber(value, Math.min(decimals, 3))} ${unit}` };
}

function item(text: string, sign: string): string {
  const lines: string[] = [];
  let line = sign;
  for (const word of text.split(' ')) {
    if (line.length + 1 + word.length > WIDTH) {
      lines.push(line);
      line = ' '.repeat(sign.length);
    }
    line += ` ${word}`;
  }
  return [...lines, line].join('\n');
}
