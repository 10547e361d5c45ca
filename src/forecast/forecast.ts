/** Before anything is marked or photographed: what uncertainty a grid, a camera and photos will reach. */

import type { EvidenceFile, TAPE_CLASSES } from '../../shared/schemas/evidence.js';
import {
  FORECAST_SCHEMA_ID,
  type Forecast,
  type ForecastQuantity,
  type ForecastWant,
} from '../../shared/schemas/forecast.js';
import type { MachineFile } from '../../shared/schemas/machine.js';
import { drivePeriods } from '../machine/index.js';
import type { NetworkEvidence } from '../network/index.js';
import { failed, type Outcome, success } from '../quantity/index.js';
import {
  type Board,
  buildEvidence,
  evidenceOutsideGrid,
  type MarkedBy,
  networkLayout,
  networkPlacements,
  networkSegments,
  readPlacements,
} from '../survey/index.js';
import { foretellSet, type PlannedNetwork } from './foretell-set.js';
import type { PhotoGroup } from './photo-set.js';
import { type Asked, findLimit, NEEDS_LENGTH, searchSets, type TapeChoice } from './search-sets.js';
import { thinGrid } from './thin-grid.js';
import { turnPlacement } from './turn-placement.js';

export interface ForecastRequest {
  /** One; or two, of a board that is turned between them. */
  readonly markedBy: readonly MarkedBy[];
  /** How far it is turned, anticlockwise seen from above; not looked at where one program marks it. */
  readonly turnRad?: number;
  readonly marking: 'auto' | 'cutter' | 'laser';
  readonly blockDelete: boolean;
  readonly machine?: MachineFile;
  readonly camera: Forecast['camera'];
  /** Photos to be taken; not looked at where something is wanted. */
  readonly photos: readonly PhotoGroup[];
  /** Share of the picture that the grid fills; 0..1. */
  readonly fill: number;
  readonly sigmaPixelPx: number;
  readonly sigmaMarkMm: number;
  /** Of the tape with which lengths are taped. */
  readonly tapeClass: (typeof TAPE_CLASSES)[number];
  readonly taped: readonly TapedLength[];
  readonly squareCheck?: { readonly runMm: number; readonly uMm: number };
  readonly wanted: readonly Asked[];
}

/** Along the grid's first line of an axis, both diagonals, or between two commanded crossings; mm. */
export type TapedLength =
  | 'x'
  | 'y'
  | 'diagonals'
  | { readonly fromMm: readonly [number, number]; readonly toMm: readonly [number, number] };

/** A usual phone: 12 million pixels, main lens of 26 mm equivalent. Common practice, no source. */
export const USUAL_CAMERA = { widthPx: 4000, heightPx: 3000, focalLength35mm: 26 } as const;
/**
 * Per stretch of a mark between two crossings, as the sample photos are measured: 0.007 to 0.010 px from
 * the pixels, 0.011 to 0.013 mm left by the wander of burnt edges.
 */
export const USUAL_SIGMA = { pixelPx: 0.01, markMm: 0.012 } as const;
/** The same where two grids cut each other's lines into shorter stretches; as the sample of a turned board is measured. */
export const USUAL_TURNED_SIGMA = { pixelPx: 0.04, markMm: 0.006 } as const;
/** Photos show a rim of some per cent around the board, and the board one around the grid. */
export const USUAL_FILL = 0.86;
export const USUAL_PHOTOS: readonly PhotoGroup[] = [
  { kind: 'overhead', count: 8, tiltRad: (2 * Math.PI) / 180 },
];
/** Of a turned board one photo tells it all. */
export const USUAL_TURNED_PHOTOS: readonly PhotoGroup[] = [
  { kind: 'overhead', count: 1, tiltRad: (2 * Math.PI) / 180 },
];
const QUARTER_TURN_RAD = Math.PI / 2;
/**
 * Sizes of guides' bends, of lines' departures and of the board's bow that the adjustment settles
 * at on simulated machines of usual quality. They hardly touch squareness and scale.
 */
const USUAL_SIZES = {
  straightnessMm: 0.0053,
  progressionMm: 0.002,
  yawRad: 3e-5,
  lineMm: 0.013,
  boardMm: 0.1,
} as const;
/** Larger grids are thinned: about so many segments in all photos together, and in each at least. */
const OBSERVATIONS = 8000;
const FEWEST_SEGMENTS = 300;

/**
 * Fails: as reading the program; WRONG_CALL; EVIDENCE_INVALID for lengths outside the grid; NO_CONVERGENCE
 * where the photos show too few marks for anything.
 */
export async function forecast(
  request: ForecastRequest,
  toolVersion: string,
): Promise<Outcome<Forecast>> {
  const { markedBy, marking, blockDelete, machine, camera } = request;
  const placed = await readPlacements({ markedBy, marking, blockDelete });
  if (!placed.ok) return placed;
  const { records, findings } = placed.value;
  const turnRad = request.turnRad ?? QUARTER_TURN_RAD;
  const board = turnPlacement(placed.value.board, turnRad);
  const given = evidenceOf(request, board, request.taped);
  if (!given.ok) return given;
  const gantryAxis = machine?.gantryAxis ?? 'y';
  const periods = drivePeriods(machine);
  const layout = networkLayout(board, gantryAxis, periods);
  const whole = {
    layout,
    placements: networkPlacements(board),
    segments: networkSegments(board),
    sigmaPx: request.sigmaPixelPx,
    sigmaMarkMm: request.sigmaMarkMm,
    sizes: USUAL_SIZES,
  };
  const networkOf = (photos: number): PlannedNetwork => ({
    ...thinGrid(whole, Math.max(FEWEST_SEGMENTS, OBSERVATIONS / photos)),
    camera: { ...camera, k1: 0, k2: 0 },
    fill: request.fill,
    evidence: given.value,
  });
  const tapes = tapeChoices(request, board);
  if (!tapes.ok) return tapes;
  const search =
    request.wanted.length === 0 ? undefined : searchSets(networkOf, tapes.value, request.wanted);
  const photos = search?.photos ?? request.photos;
  const evidence = search?.evidence ?? given.value;
  const count = photos.reduce((sum, group) => sum + group.count, 0);
  const foretold = foretellSet({ ...networkOf(count), evidence }, photos);
  if (foretold === undefined) {
    return failed('NO_CONVERGENCE', 'such photos show too few marks to solve for anything', {
      hint: 'let the grid fill more of the picture, or mark more lines',
    });
  }
  const { linesAtX, linesAtY } = board.grid;
  const [width, height] = [linesAtX, linesAtY].map(spanOfLines);
  return success({
    schema: FORECAST_SCHEMA_ID,
    tool: { name: 'gantrue', version: toolVersion },
    program: records[0].program,
    ...(records[1] === undefined ? {} : { second: { program: records[1].program, turnRad } }),
    grid: { linesAtX: linesAtX.length, linesAtY: linesAtY.length, width, height },
    gantryAxis,
    periods: { ...periods },
    camera,
    photos: [...photos],
    fill: request.fill,
    mmPerPx: foretold.mmPerPx,
    assumed: {
      sigmaPixel: request.sigmaPixelPx,
      sigmaMark: request.sigmaMarkMm,
      straightness: USUAL_SIZES.straightnessMm,
      lines: USUAL_SIZES.lineMm,
      board: USUAL_SIZES.boardMm,
    },
    evidence: evidence.map(({ what }) => what),
    quantities: [...foretold.quantities],
    ...(search === undefined ? {} : { want: withLimit(search.want, foretold.quantities) }),
    findings,
  });
}

/** Where none of the sets does, what stands in the way of the strongest. */
function withLimit(want: ForecastWant, quantities: readonly ForecastQuantity[]): ForecastWant {
  if (want.cheapest !== undefined) return want;
  const limit = findLimit(quantities, want.asked);
  return limit === undefined ? want : { ...want, limit };
}

/** Lengths and square checks as they would be read on a true machine. */
function evidenceOf(
  { tapeClass, squareCheck }: Pick<ForecastRequest, 'tapeClass' | 'squareCheck'>,
  board: Board,
  taped: readonly TapedLength[],
): Outcome<readonly NetworkEvidence[]> {
  const lengths = taped.flatMap((one) => endsOf(one, board));
  const file: EvidenceFile = {
    tape: { class: tapeClass },
    lengths: lengths.map(([from, to]) => ({
      from: [...from],
      to: [...to],
      length: Math.hypot(to[0] - from[0], to[1] - from[1]),
    })),
    ...(squareCheck === undefined
      ? {}
      : {
          squareCheck: {
            along: 'x' as const,
            run: squareCheck.runMm,
            deviation: 0,
            u: squareCheck.uMm,
          },
        }),
  };
  const built = buildEvidence([], file, undefined);
  if (!built.ok) return built;
  const { evidence } = built.value;
  const outside = evidenceOutsideGrid(board, evidence);
  return outside.ok ? success(evidence) : outside;
}

type Ends = readonly [from: readonly [number, number], to: readonly [number, number]];

function endsOf(taped: TapedLength, { grid }: Board): Ends[] {
  const [x0, x1] = [grid.linesAtX[0], grid.linesAtX[grid.linesAtX.length - 1]].map(
    ({ positionMm }) => positionMm,
  );
  const [y0, y1] = [grid.linesAtY[0], grid.linesAtY[grid.linesAtY.length - 1]].map(
    ({ positionMm }) => positionMm,
  );
  if (taped === 'x')
    return [
      [
        [x0, y0],
        [x1, y0],
      ],
    ];
  if (taped === 'y')
    return [
      [
        [x0, y0],
        [x0, y1],
      ],
    ];
  if (taped === 'diagonals') {
    return [
      [
        [x0, y0],
        [x1, y1],
      ],
      [
        [x1, y0],
        [x0, y1],
      ],
    ];
  }
  return [[taped.fromMm, taped.toMm]];
}

function spanOfLines(lines: Board['grid']['linesAtX']): number {
  return lines[lines.length - 1].positionMm - lines[0].positionMm;
}

/** A tape is tried only where a scale is wanted and no length was given: nothing else gains much by it. */
function tapeChoices(request: ForecastRequest, board: Board): Outcome<TapeChoice[]> {
  const none = { lengths: [], evidence: [] };
  const useful = request.wanted.some(({ what }) => NEEDS_LENGTH.includes(what));
  if (!useful || request.taped.length > 0) return success([none]);
  const { linesAtX, linesAtY } = board.grid;
  const longer = spanOfLines(linesAtX) >= spanOfLines(linesAtY) ? 'x' : 'y';
  const choices: TapeChoice[] = [none];
  for (const taped of [[longer], ['x', 'y'], ['x', 'y', 'diagonals']] as const) {
    // The square check, if any, is among what was given.
    const built = evidenceOf({ tapeClass: request.tapeClass }, board, taped);
    if (!built.ok) return built;
    choices.push({ lengths: built.value.map(({ what }) => what), evidence: built.value });
  }
  return success(choices);
}
