/** Where a fixture really sits: layout + photos, or features measured otherwise, + the machine's errors. */

import { createHash } from 'node:crypto';
import { readFile } from 'node:fs/promises';
import { basename } from 'node:path';
import {
  FIXTURE_SCHEMA_ID,
  type FixtureFeatureRecord,
  type FixtureResult,
} from '../../shared/schemas/fixture.js';
import type { Measurement } from '../../shared/schemas/measurement.js';
import {
  acrossEdge,
  affineOf,
  type CombinedPlace,
  combineSightings,
  estimateOf,
  type FeatureView,
  type FixtureFrame,
  findFeature,
  judgeFixture,
  type Layout,
  type LayoutFeature,
  localPlane,
  type MeasuredPlace,
  nominalOf,
  type PhotoSighting,
  ROTATION_CAUTIONS,
} from '../fixture/index.js';
import { readPhoto } from '../imaging/index.js';
import type { CommandedView } from '../network/index.js';
import { type Finding, failed, type Outcome, success } from '../quantity/index.js';
import type { FixtureOverlay } from '../report/index.js';
import { type FixturePhoto, fixtureOverlay } from './fixture-pictures.js';
import type { FixturePoints } from './read-fixture-points.js';
import type { SavedMeasurement } from './read-measurement.js';
import { RECORDED_U_PX, recordedView } from './recorded-view.js';
import { survey } from './survey.js';
import type { SurveyContext, SurveyRequest } from './survey-request.js';

export interface FixtureRequest {
  readonly layout: Layout;
  readonly layoutFile: string;
  /** Photos of grid and fixture together; their own survey gives each photo's place. */
  readonly survey?: SurveyRequest;
  /** Photos of a saved measurement, where nothing says what marked the grid. */
  readonly photoFiles?: readonly string[];
  /** Whose errors of the machine are taken. */
  readonly measurement?: SavedMeasurement;
  readonly points?: FixturePoints;
}

/** What was found, and the photos in which it was looked for. */
export interface FixtureSurvey {
  readonly result: FixtureResult;
  readonly photos: readonly FixturePhoto[];
}

/** A photo, ready to be looked at. */
interface OpenView {
  readonly path: string;
  readonly name: string;
  readonly orientation: FixturePhoto['orientation'];
  readonly corners: FixtureOverlay['corners'];
  /** Index into the result's photos. */
  readonly index: number;
  readonly view: FeatureView;
  readonly commanded?: CommandedView;
  /** Added to each pixel coordinate, px. */
  readonly uPx: number;
}

interface SeenPhotos {
  readonly views: readonly OpenView[];
  readonly records: FixtureResult['photos'];
  readonly measurement: Measurement | undefined;
  readonly whitened?: (byParameters: Float64Array) => Float64Array;
  readonly findings: readonly Finding[];
}

const NO_PHOTOS: SeenPhotos = { views: [], records: [], measurement: undefined, findings: [] };

/**
 * Measures the features of a layout and judges them.
 *
 * Fails: what a survey fails with; WRONG_CALL; FEATURES_NOT_FOUND.
 */
export async function surveyFixture(
  request: FixtureRequest,
  context: SurveyContext,
): Promise<Outcome<FixtureSurvey>> {
  const { layout, points, measurement } = request;
  const opened = await openPhotos(request, context);
  if (!opened.ok) return opened;
  const seen = opened.value;
  const errorsFrom = measurement?.measurement ?? seen.measurement;
  const machine = affineOf(errorsFrom);
  const findings: Finding[] = [...seen.findings];

  const looked =
    points === undefined
      ? lookAll(layout, seen, betweenLines(errorsFrom), context)
      : measuredOtherwise(layout, points);
  const places = looked.flatMap(({ place }) => (place === undefined ? [] : [place]));
  if (places.length === 0) return nothingFound(layout, looked);
  findings.push(...doubtFeatures(layout, looked));
  const frame: FixtureFrame = points?.frame ?? 'machine';
  const { figures, tellsMachine, ...judged } = judgeFixture(layout, places, machine, frame);
  const isMachineMeasured = machine.isSquarenessKnown && machine.isRatioKnown;
  findings.push(...doubtFrame(isMachineMeasured, points, places.length, tellsMachine));
  const { correction } = judged;
  const features = looked.map(({ record }, i) => ({ ...record, ...figures.get(i) }));
  const result: FixtureResult = {
    schema: FIXTURE_SCHEMA_ID,
    tool: { name: 'gantrue', version: context.toolVersion },
    measuredAt: context.now().toISOString(),
    layout: {
      file: basename(request.layoutFile),
      ...(await digestOf(request.layoutFile)),
      ...(layout.name === undefined ? {} : { name: layout.name }),
      features: layout.features.length,
      clearance: layout.clearanceMm,
      search: layout.searchMm,
    },
    machine: {
      from:
        measurement !== undefined ? 'measurement' : errorsFrom !== undefined ? 'photos' : 'nothing',
      ...(measurement === undefined ? {} : { file: measurement.file, sha256: measurement.sha256 }),
      ...(machine.isRatioKnown ? { scaleX: machine.values[0], scaleY: machine.values[1] } : {}),
      ...(machine.isSquarenessKnown ? { squareness: machine.values[2] } : {}),
      scaleKnown: machine.isScaleKnown,
    },
    photos: seen.records,
    ...(points === undefined
      ? {}
      : { points: { file: points.file, sha256: points.sha256, frame } }),
    features,
    ...judged,
    findings,
    cautions:
      correction === undefined || correction.leaveAlone
        ? []
        : [
            ...ROTATION_CAUTIONS,
            'better than turning the program: move or shim the fixture, and look again',
          ],
  };
  const photos = seen.views.map((view) => ({
    path: view.path,
    index: view.index,
    orientation: view.orientation,
    overlay: fixtureOverlay(view, layout, features, places),
  }));
  return success({ result, photos });
}

/** Of the layout as it is now; it has been read, so that a fault here is no more than a missing digest. */
async function digestOf(path: string): Promise<{ readonly sha256?: string }> {
  try {
    return {
      sha256: createHash('sha256')
        .update(await readFile(path))
        .digest('hex'),
    };
  } catch {
    return {};
  }
}

async function openPhotos(
  request: FixtureRequest,
  context: SurveyContext,
): Promise<Outcome<SeenPhotos>> {
  if (request.survey !== undefined) return surveyPhotos(request.survey, context);
  const files = request.photoFiles ?? [];
  if (files.length === 0) return success(NO_PHOTOS);
  if (request.measurement === undefined) {
    return failed('WRONG_CALL', 'nothing says how the photos look at the board', {
      hint: 'name the program that marked the grid in them (--program), or their saved measurement (--measurement)',
    });
  }
  return recallPhotos(files, request.measurement, context);
}

/** The grid is measured in the same photos. */
async function surveyPhotos(
  request: SurveyRequest,
  context: SurveyContext,
): Promise<Outcome<SeenPhotos>> {
  const surveyed = await survey(request, context);
  if (!surveyed.ok) return surveyed;
  const { measurement, photos, whitened } = surveyed.value;
  const views: OpenView[] = [];
  for (const { path, index, orientation, overlay, commandedView } of photos) {
    if (commandedView === undefined) continue;
    const photo = await readPhoto(path);
    if (!photo.ok) return photo;
    const { imageAt } = commandedView;
    const view = { image: photo.value.grey, imageAt };
    views.push({
      path,
      name: basename(path),
      orientation,
      corners: overlay.corners,
      index,
      view,
      commanded: commandedView,
      uPx: 0,
    });
  }
  if (views.length === 0) {
    return failed(
      'NO_USABLE_PHOTO',
      'it is not known which way round the grid lies in the photos',
      {
        hint: 'say in which corner of the picture the origin lies: --origin',
      },
    );
  }
  return success({
    views,
    records: measurement.photos.map(({ file, sha256, used, code, reason }) => ({
      file,
      ...(sha256 === undefined ? {} : { sha256 }),
      used,
      ...(code === undefined ? {} : { code }),
      ...(reason === undefined ? {} : { reason }),
    })),
    measurement,
    ...(whitened === undefined ? {} : { whitened }),
    // What is doubtful about the machine is said by `measure`; here only what touches the photos.
    findings: measurement.findings.filter(({ code }) => code.startsWith('PHOTO_')),
  });
}

/** The photos were measured before: their record says how they look at the board. */
async function recallPhotos(
  files: readonly string[],
  { measurement, file: measurementFile }: SavedMeasurement,
  context: SurveyContext,
): Promise<Outcome<SeenPhotos>> {
  const views: OpenView[] = [];
  const records: FixtureResult['photos'] = [];
  for (const [i, path] of files.entries()) {
    const file = basename(path);
    context.onProgress?.({ step: 'reading', done: i + 1, total: files.length, what: file });
    const photo = await readPhoto(path);
    if (!photo.ok) {
      const { code, message } = photo.failure;
      records.push({ file, used: false, code, reason: message });
      continue;
    }
    const { sha256, grey, exif } = photo.value;
    const known = measurement.photos.find((one) => one.sha256 === sha256);
    const view = known === undefined ? undefined : recordedView(known, measurement.camera);
    if (view === undefined) {
      const reason =
        known === undefined
          ? 'it is none of the photos of the measurement'
          : 'the measurement does not say how it looks at the board';
      records.push({ file, sha256, used: false, reason });
      continue;
    }
    views.push({
      path,
      name: file,
      orientation: exif.orientation,
      corners: known?.corners ?? [],
      index: records.length,
      view: { image: grey, imageAt: view.imageAt },
      uPx: RECORDED_U_PX,
    });
    records.push({ file, sha256, used: true });
  }
  if (views.length > 0) return success({ ...NO_PHOTOS, views, records });
  return failed(
    'NO_USABLE_PHOTO',
    [
      `none of the photos belongs to ${basename(measurementFile)}`,
      ...records.map(({ file, reason }) => `${file}: ${reason}`),
    ].join('\n  '),
    {
      hint: 'give the photos that were measured, or name the program that marked the grid in these: --program FILE',
    },
  );
}

interface Looked {
  readonly record: FixtureFeatureRecord;
  readonly place?: MeasuredPlace;
  readonly isContradicted?: boolean;
}

/** Variance along X and Y, mm². */
type BetweenLines = readonly [x: number, y: number];

/**
 * Between two lines of the grid the machine's deviation is not seen. What interpolation misses there is taken from how
 * far each line lies from the interpolation of its neighbours: screws and pinions with periods below the grid's pitch
 * show as that.
 */
function betweenLines(measurement: Measurement | undefined): BetweenLines {
  const varianceOf = (axis: 'x' | 'y') => {
    const lines = (measurement?.deviations ?? [])
      .filter((one) => one.axis === axis && one.placement === 0 && one.rung !== true)
      .flatMap(({ commanded, forward, reverse }) => {
        const seen = [forward, reverse].filter((one) => one !== undefined);
        if (seen.length === 0) return [];
        return [{ at: commanded, value: seen.reduce((sum, one) => sum + one, 0) / seen.length }];
      })
      .sort((a, b) => a.at - b.at);
    let [square, count] = [0, 0];
    for (let i = 1; i < lines.length - 1; i++) {
      const [before, here, behind] = lines.slice(i - 1, i + 2);
      const share = (here.at - before.at) / (behind.at - before.at);
      const missed = here.value - (1 - share) * before.value - share * behind.value;
      square += missed ** 2;
      count++;
    }
    return count === 0 ? 0 : square / count;
  };
  return [varianceOf('x'), varianceOf('y')];
}

function lookAll(
  layout: Layout,
  seen: SeenPhotos,
  between: BetweenLines,
  context: SurveyContext,
): Looked[] {
  return layout.features.map((feature, i) => {
    context.onProgress?.({
      step: 'looking for',
      done: i + 1,
      total: layout.features.length,
      what: feature.name,
    });
    return look(layout, feature, i, seen, between);
  });
}

/** Photos that disagree more than once in ten thousand times. */
const DISAGREEING = 1e-4;

function look(
  layout: Layout,
  feature: LayoutFeature,
  index: number,
  seen: SeenPhotos,
  [betweenX, betweenY]: BetweenLines,
): Looked {
  const base = baseRecord(feature);
  let read = readPhotos(layout, feature, feature.heightMm, seen);
  if (read.sightings.length === 0) {
    // What is covered in one photo may be out of another: the fuller word counts.
    const { misses } = read;
    const miss = misses.find(({ state }) => state === 'covered') ?? misses[0];
    return {
      record: {
        ...base,
        state: miss?.state ?? 'not found',
        ...(miss === undefined ? {} : { reason: miss.reason }),
      },
    };
  }
  let heightMm = feature.heightMm;
  let combined = combineAgreeing(read.sightings, feature.heightUMm);
  // A height that turns out far from what was believed is read again there: views are not linear in it.
  for (let round = 0; round < HEIGHT_ROUNDS && feature.heightUMm > 0; round++) {
    if (Math.abs(combined.higherMm.value) < NEAR_MM) break;
    const there = heightMm + combined.higherMm.value;
    const again = readPhotos(layout, feature, there, seen);
    if (again.sightings.length < read.sightings.length) break;
    heightMm = there;
    read = again;
    combined = combineAgreeing(read.sightings, feature.heightUMm, feature.heightMm - heightMm);
  }
  const { values, covariance, shared, higherMm, probability, diameterMm } = combined;
  return {
    record: {
      ...base,
      state: 'found',
      photos: combined.sightings.map(({ photo }) => seen.views[photo].name),
      height: {
        value: feature.heightUMm === 0 ? feature.heightMm : heightMm + higherMm.value,
        u: feature.heightUMm === 0 ? 0 : higherMm.u,
        known: feature.isHeightKnown,
      },
      ...(diameterMm === undefined
        ? {}
        : { diameter: estimateOf(diameterMm.value, diameterMm.u, 'mm') }),
    },
    place: {
      feature: index,
      values,
      covariance: widened(feature, covariance, betweenX, betweenY),
      ...(shared === undefined ? {} : { shared }),
    },
    isContradicted: combined.leftOut || probability < DISAGREEING,
  };
}

/** An edge crosses many lines: what one pair of them hides hardly shifts it, yet its ends lie between two. */
function widened(
  feature: LayoutFeature,
  [xx, xy, yy]: readonly [number, number, number],
  betweenX: number,
  betweenY: number,
): [number, number, number] {
  if (feature.kind !== 'edge') return [xx + betweenX, xy, yy + betweenY];
  const [nx, ny] = acrossEdge(feature);
  const across = nx * nx * betweenX + ny * ny * betweenY;
  return [xx + across, xy, yy + across];
}

/**
 * One photo among three or more that contradicts all others is left out: a rim was mistaken there. Where leaving out
 * one does not settle it, all stay, and U grows.
 */
function combineAgreeing(
  sightings: readonly PhotoSighting[],
  heightUMm: number,
  believedMm = 0,
): CombinedPlace & { readonly sightings: readonly PhotoSighting[]; readonly leftOut: boolean } {
  const all = combineSightings(sightings, heightUMm, believedMm);
  if (all.probability >= DISAGREEING || sightings.length < 3) {
    return { ...all, sightings, leftOut: false };
  }
  const fewer = sightings.map((_, i) => {
    const others = sightings.filter((_one, k) => k !== i);
    return { ...combineSightings(others, heightUMm, believedMm), sightings: others, leftOut: true };
  });
  const best = fewer.reduce((most, one) => (one.probability > most.probability ? one : most));
  return best.probability >= DISAGREEING ? best : { ...all, sightings, leftOut: false };
}

const HEIGHT_ROUNDS = 4;
const NEAR_MM = 0.05;

interface ReadPhotos {
  readonly sightings: readonly PhotoSighting[];
  readonly misses: readonly { readonly state: 'not found' | 'covered'; readonly reason: string }[];
}

/** The feature in every photo, read as if it stood at a height. */
function readPhotos(
  { searchMm }: Layout,
  stated: LayoutFeature,
  heightMm: number,
  seen: SeenPhotos,
): ReadPhotos {
  const feature = { ...stated, heightMm };
  const sightings: PhotoSighting[] = [];
  const misses: { state: 'not found' | 'covered'; reason: string }[] = [];
  seen.views.forEach((open, photo) => {
    const { parallax, mmPerPx } = localPlane(open.view, nominalOf(feature), heightMm);
    if (!(Math.hypot(...parallax) < MOST_PARALLAX)) {
      misses.push({ state: 'not found', reason: 'the photo sees its place edge-on' });
      return;
    }
    // A feature of unknown height is seen farther away from its place.
    const aside = COVERAGE_HEIGHTS * feature.heightUMm * Math.hypot(...parallax);
    const found = findFeature(open.view, feature, searchMm + aside);
    if (found.state !== 'found') {
      misses.push(found);
      return;
    }
    if (![...found.values, ...found.covariance].every(Number.isFinite)) {
      misses.push({ state: 'not found', reason: 'its place in the photo cannot be told' });
      return;
    }
    const side = (heightMm * Math.hypot(...parallax)) / mmPerPx;
    const extra = (open.uPx * mmPerPx) ** 2 + (sideUPx(heightMm, side) * mmPerPx) ** 2;
    const [xx, xy, yy] = found.covariance;
    sightings.push({
      ...found,
      covariance: [xx + extra, xy, yy + extra],
      grainShare: found.grainShare * Math.min(xx / (xx + extra), yy / (yy + extra)),
      photo,
      ...sharedOf(open, feature, seen.whitened),
    });
  });
  return { sightings, misses };
}

/**
 * Beside a raised rim its own side is seen as a strip. Too narrow to be told apart, it draws the rim along by a part
 * of a pixel; seen in drawn pins.
 */
function sideUPx(heightMm: number, stripPx: number): number {
  if (heightMm <= 0) return 0;
  return stripPx < STRIP_PX ? STRIP_U_PX * Math.min(1, stripPx) + RAISED_U_PX : RAISED_U_PX;
}

const STRIP_PX = 4;
const STRIP_U_PX = 0.2;
const RAISED_U_PX = 0.05;

/** Millimetres aside for each of height: at 84° from above nothing is to be seen of a board; a spoilt record says it. */
const MOST_PARALLAX = 10;

/** Heights within so many standard uncertainties are looked for. */
const COVERAGE_HEIGHTS = 2;

/** How the adjustment's own uncertainty shifts a feature. */
function sharedOf(
  { commanded }: OpenView,
  feature: LayoutFeature,
  whitened: SeenPhotos['whitened'],
): Pick<PhotoSighting, 'shared'> {
  if (commanded === undefined || whitened === undefined) return {};
  const rowsAt = ([x, y]: readonly [number, number]) =>
    commanded.placeByParameters(x, y, feature.heightMm);
  if (feature.kind !== 'edge') {
    const [x, y] = rowsAt(feature.atMm);
    return { shared: [whitened(x), whitened(y)] };
  }
  const { fromMm, toMm } = feature;
  const length = Math.hypot(toMm[0] - fromMm[0], toMm[1] - fromMm[1]);
  const normal = [-(toMm[1] - fromMm[1]) / length, (toMm[0] - fromMm[0]) / length];
  const across = (at: readonly [number, number]) => {
    const [x, y] = rowsAt(at);
    return whitened(x.map((one, k) => normal[0] * one + normal[1] * y[k]));
  };
  return { shared: [across(fromMm), across(toMm)] };
}

function baseRecord(feature: LayoutFeature) {
  const [x, y] = nominalOf(feature);
  const { name, kind, role, scatterMm } = feature;
  const pointOf = ([px, py]: readonly [number, number]) => ({ x: px, y: py });
  return {
    name,
    kind,
    ...(role === undefined ? {} : { role }),
    nominal: { x, y },
    ...(feature.kind === 'edge'
      ? { from: pointOf(feature.fromMm), to: pointOf(feature.toMm) }
      : {}),
    scatter: scatterMm,
  };
}

function measuredOtherwise({ features }: Layout, points: FixturePoints): Looked[] {
  return features.map((feature, i) => {
    const place = points.places.find((one) => one.feature === i);
    const base = baseRecord(feature);
    return place === undefined
      ? { record: { ...base, state: 'not found', reason: `it is not in ${points.file}` } }
      : { record: { ...base, state: 'found' }, place };
  });
}

function nothingFound({ features }: Layout, looked: readonly Looked[]) {
  const lines = looked.map(({ record }) => `${record.name}: ${record.reason}`);
  const most = 12;
  const more = lines.length > most ? [`and ${lines.length - most} more`] : [];
  return failed(
    'FEATURES_NOT_FOUND',
    [
      `none of the ${features.length} features of the layout was found`,
      ...lines.slice(0, most),
      ...more,
    ].join('\n  '),
    {
      hint: 'check that the layout is in machine coordinates of this board, its diameters and heights, and that the fixture is to be seen; `search` widens where it is looked for',
    },
  );
}

function doubtFeatures({ features }: Layout, looked: readonly Looked[]): Finding[] {
  const names = (pick: (one: Looked, feature: LayoutFeature) => boolean) =>
    looked.flatMap((one, i) => (pick(one, features[i]) ? [features[i].name] : [])).join(', ');
  const findings: Finding[] = [];
  const unseen = looked.filter(({ place }) => place === undefined).length;
  if (unseen > 0) {
    findings.push({
      code: 'FEATURE_UNSEEN',
      message: `${unseen} of ${looked.length} features were not measured, and count for nothing`,
      hint: 'uncover them, or check their places, diameters and heights in the layout',
      where: names(({ place }) => place === undefined),
    });
  }
  const raised = names(({ record }) => record.height?.known === false);
  if (raised !== '') {
    findings.push({
      code: 'HEIGHT_UNKNOWN',
      message:
        'the layout does not say how high these stand over the board: a tilted or off-centre view moves them, and their U is wider for it',
      hint: 'measure the height of the visible rim and write it as `height`; or take photos from several sides, which tells it',
      where: raised,
    });
  }
  const contradicted = names(({ isContradicted }) => isContradicted === true);
  if (contradicted !== '') {
    findings.push({
      code: 'FEATURE_PHOTOS_DISAGREE',
      message:
        'the photos disagree about these by more than they should: one was left out, or their U was widened',
      hint: 'check their heights in the layout; see that nothing moved between the photos',
      where: contradicted,
    });
  }
  return findings;
}

function doubtFrame(
  isMachineMeasured: boolean,
  points: FixturePoints | undefined,
  found: number,
  tellsMachine: boolean,
): Finding[] {
  const findings: Finding[] = [];
  if (found < 3) {
    findings.push({
      code: 'FEW_FEATURES',
      message: `${found === 1 ? 'one feature tells' : 'two features tell'} offset${found === 1 ? '' : ' and rotation'} at most, and not which of them is wrong`,
      hint: 'name three or more features in the layout, far apart',
    });
  }
  if (!isMachineMeasured) {
    findings.push({
      code: 'MACHINE_UNKNOWN',
      message:
        'squareness or scales of the machine were not measured: they cannot be told from a fixture that is itself out of square or stretched',
      hint: 'give a measurement that fixes them: --measurement FILE',
    });
  } else if (!tellsMachine && found >= 3) {
    findings.push({
      code: 'MACHINE_NOT_TOLD',
      message:
        'the machine’s own errors are too small to show in this pattern: whether it is true or goes as the machine does is not told, and makes no difference here',
    });
  }
  if (points?.frame === 'board') {
    findings.push({
      code: 'OWN_FRAME',
      message:
        'points in true millimetres have the zero and the X direction of whatever measured them: offset and rotation are against those',
      hint: 'measure from the machine’s zero and along its X travel, or trust only each feature’s own figures',
    });
  }
  return findings;
}
