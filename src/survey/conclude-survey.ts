/** An adjustment → the result: quantities, doubts, verdicts, proposals. */

import {
  COVERAGE_FACTOR,
  type EvidenceRecord,
  type FreshRecord,
  type Measurement,
  type MethodRecord,
  type PhotoRecord,
  type PointsRecord,
} from '../../shared/schemas/measurement.js';
import { cautions, judge, propose } from '../correction/index.js';
import { type Adjustment, isCameraFree, listCameras } from '../network/index.js';
import type { Finding } from '../quantity/index.js';
import { describeAdjustment, listDoubts } from './adjust-photos.js';
import { describePlacements, tellPlacements } from './describe-placements.js';
import type { CameraGroup } from './group-cameras.js';
import type { ToldEstimates } from './open-quantities.js';
import type { SurveyGround } from './prepare-survey.js';
import type { SurveyRequest } from './survey-request.js';
import { describeFocals, weighCamera } from './weigh-camera.js';
import { weighDrift } from './weigh-drift.js';
import { weighShading } from './weigh-shading.js';
import { weighTemperature } from './weigh-temperature.js';

export interface AdjustedSurvey {
  readonly adjustment: Adjustment;
  readonly estimates: ToldEstimates;
  readonly photos: readonly PhotoRecord[];
  /** Of the photos in the adjustment, in its order. */
  readonly photoNames: readonly string[];
  /** Of its cameras. */
  readonly makes: readonly Pick<CameraGroup, 'make' | 'model'>[];
  /** What measured points say against the rest. */
  readonly evidence?: readonly EvidenceRecord[];
  readonly points?: readonly PointsRecord[];
  readonly imagePoints?: Measurement['imagePoints'];
  readonly oneMore?: NonNullable<Measurement['adjustment']>['oneMore'];
  /** Other ways than the one that was used. */
  readonly otherMethods?: readonly MethodRecord[];
  readonly fresh?: FreshRecord;
}

type Told = Pick<SurveyRequest, 'machine' | 'evidence'>;

/** The result as it is written, but for the names of its pictures. */
export function concludeSurvey(
  ground: SurveyGround,
  adjusted: AdjustedSurvey,
  told: Told,
): Measurement {
  const { adjustment, estimates, photos, makes, imagePoints } = adjusted;
  const { base, built, board } = ground;
  const { onlyMachineTerms, cameraTerms } = adjustment.network.input.beliefs ?? {};
  const isGridKnown = onlyMachineTerms !== undefined;
  const isFree = isCameraFree(adjustment.network.input);
  const evidence = [...estimates.evidence, ...(adjusted.evidence ?? [])];
  const { squareness, scale } = estimates;
  // A camera of which nothing is believed, that was said to be the same in all photos, or that is all that is asked,
  // departs from no belief.
  const ofCamera = isFree
    ? weighShading({ squareness, ratio: scale.ratio }, adjustment.network.input, photos)
    : isGridKnown || cameraTerms !== undefined
      ? { squareness, ratio: scale.ratio, findings: describeFocals(adjustment) }
      : weighCamera(adjustment, { squareness, ratio: scale.ratio }, adjusted.photoNames);
  const drifted = weighDrift({ ...scale, ratio: ofCamera.ratio }, estimates.drift, board.grid);
  const weighed = weighTemperature(
    { scale: drifted.scale, deviations: estimates.deviations },
    built.swell,
    told.evidence,
    told.machine,
  );
  const findings = [
    ...ground.findings,
    ...(isGridKnown ? [] : doubtGantry(told)),
    ...listDoubts(adjustment, adjusted.photoNames, evidence),
    ...ofCamera.findings,
    ...drifted.findings,
    ...(estimates.board === undefined ? [] : doubtBoard(estimates.board)),
  ];
  const measurement: Measurement = {
    ...base,
    ...tellDates(told),
    placements: describePlacements(base.placements, adjustment),
    squareness: ofCamera.squareness,
    scale: weighed.scale,
    ...(weighed.scaleAt20 === undefined ? {} : { scaleAt20: weighed.scaleAt20 }),
    lostMotion: estimates.lostMotion,
    straightness: estimates.straightness,
    ...(estimates.straightnessCurve === undefined
      ? {}
      : { straightnessCurve: estimates.straightnessCurve }),
    racking: estimates.racking,
    periodic: estimates.periodic,
    drift: estimates.drift,
    ...(estimates.board === undefined ? {} : { board: estimates.board }),
    photos: [...photos],
    ...(adjusted.points?.length ? { points: [...adjusted.points] } : {}),
    ...(imagePoints === undefined ? {} : { imagePoints }),
    camera: listCameras(adjustment).map((record, i) => ({ ...makes[i], ...record })),
    adjustment: {
      ...describeAdjustment(adjustment),
      seconds: (performance.now() - ground.startedMs) / 1000,
      ...(estimates.squarenessCorrelation === undefined
        ? {}
        : { squarenessCorrelation: { ...estimates.squarenessCorrelation } }),
      ...(adjusted.oneMore?.length ? { oneMore: adjusted.oneMore } : {}),
      ...(isGridKnown ? { knownGrid: true } : {}),
      ...(cameraTerms === undefined ? {} : { cameraTerms: [...cameraTerms] }),
    },
    deviations: tellPlacements(weighed.deviations, base.placements, rungsOf(board)),
    ...(photos.length === 0 || isGridKnown
      ? {}
      : {
          methods: [
            {
              method: isFree ? ('turned board' as const) : ('photos' as const),
              used: true,
              squareness: ofCamera.squareness,
              ratio: ofCamera.ratio,
            },
            ...(adjusted.otherMethods ?? []),
          ],
        }),
    ...(adjusted.fresh === undefined ? {} : { fresh: adjusted.fresh }),
    evidence,
    verdicts: [],
    proposals: [],
    findings,
    warnings: [],
  };
  // Nothing was asked about the machine: nothing is to be judged.
  return isGridKnown ? measurement : withVerdicts(measurement, told);
}

/** Whether marks are fresh is asked when measurements are compared. */
function tellDates({ evidence }: Told): Pick<Measurement, 'marked' | 'taken'> {
  const marked = evidence?.marked?.date;
  const taken = evidence?.taken;
  return {
    ...(marked === undefined ? {} : { marked }),
    ...(taken === undefined ? {} : { taken }),
  };
}

function rungsOf({ grid, second }: SurveyGround['board']) {
  return [grid, ...(second === undefined ? [] : [second.grid])].map(({ rungsAtX, rungsAtY }) => ({
    x: rungsAtX.map(({ positionMm }) => positionMm),
    y: rungsAtY.map(({ positionMm }) => positionMm),
  }));
}

export function withVerdicts(measurement: Measurement, { machine, evidence }: Told): Measurement {
  const judged = { ...measurement, verdicts: judge(measurement, machine) };
  const proposals = propose(judged, machine, evidence);
  return { ...judged, proposals, warnings: cautions(proposals) };
}

function doubtGantry({ machine }: Told): Finding[] {
  if (machine?.gantryAxis !== undefined) return [];
  return [
    {
      code: 'GANTRY_AXIS_ASSUMED',
      message: 'no machine file says along which axis the gantry travels: Y was assumed',
      hint: 'give a machine file with `gantryAxis` (--machine)',
    },
  ];
}

/** A bow below this, mm, is that of every board and was taken into account. */
const PLAIN_BOARD_MM = 0.3;

function doubtBoard(board: NonNullable<Measurement['board']>): Finding[] {
  const parts = (
    [
      ['bow along X', board.bowX],
      ['bow along Y', board.bowY],
      ['twist', board.twist],
    ] as const
  )
    .filter(([, { value, u }]) => Math.abs(value) > Math.max(PLAIN_BOARD_MM, COVERAGE_FACTOR * u))
    .map(
      ([name, { value, u }]) =>
        `${name} ${value.toFixed(2)} ± ${(COVERAGE_FACTOR * u).toFixed(2)} mm`,
    );
  if (parts.length === 0) return [];
  return [
    {
      code: 'BOARD_NOT_FLAT',
      message: `the board is not flat (${parts.join(', ')}; + where ends or the +X +Y corner stand up); that was taken into account`,
      hint: 'fasten or skim the board, and measure again',
    },
  ];
}
