/** What the picture of each photo shows of a fixture. */

import type { FixtureFeatureRecord } from '../../shared/schemas/fixture.js';
import {
  acrossEdge,
  type FeatureView,
  type Layout,
  type LayoutFeature,
  localPlane,
  type MeasuredPlace,
  nominalOf,
} from '../fixture/index.js';
import type { FixtureOverlay, FixtureOverlayFeature } from '../report/index.js';
import type { SurveyedPhoto } from './survey-request.js';

/** A photo in which a fixture was looked for, with what is needed to draw a picture of it. */
export interface FixturePhoto {
  /** Path as given. */
  readonly path: string;
  /** Index into the result's photos. */
  readonly index: number;
  readonly orientation: SurveyedPhoto['orientation'];
  readonly overlay: FixtureOverlay;
}

export interface PicturedView {
  readonly name: string;
  readonly view: FeatureView;
  readonly corners: FixtureOverlay['corners'];
}

type Place = readonly [x: number, y: number];

/** Corners of the many-sided figure that stands for a circle. */
const ROUND_SIDES = 36;
/** A feature without a diameter is drawn as wide as this. */
const NO_DIAMETER_MM = 5;
/** What lies farther outside the picture than this share of its size is not drawn. */
const OUTSIDE_SHARE = 0.05;

/**
 * @param records of the layout's features, in its order.
 * @param places of those that were found.
 */
export function fixtureOverlay(
  { name, view, corners }: PicturedView,
  layout: Layout,
  records: readonly FixtureFeatureRecord[],
  places: readonly MeasuredPlace[],
): FixtureOverlay {
  const { width, height } = view.image;
  const isShown = ([u, v]: readonly [number, number]) =>
    u > -OUTSIDE_SHARE * width &&
    u < (1 + OUTSIDE_SHARE) * width &&
    v > -OUTSIDE_SHARE * height &&
    v < (1 + OUTSIDE_SHARE) * height;
  const features = layout.features.flatMap((feature, i): FixtureOverlayFeature[] => {
    const record = records[i];
    const heightMm = record.height?.value ?? feature.heightMm;
    const imageOf = ([x, y]: Place) => view.imageAt(x, y, heightMm);
    if (!isShown(imageOf(nominalOf(feature)))) return [];
    const place = places.find((one) => one.feature === i);
    const verdict = (record.asUsed ?? record.asPlaced)?.verdict;
    return [
      {
        number: i + 1,
        name: feature.name,
        nominal: outlineOf(feature, [0, 0]).map(imageOf),
        isSeen: record.photos?.includes(name) === true,
        verdict,
        ...(place === undefined
          ? {}
          : { found: foundOutline(feature, place, record).map(imageOf) }),
        ...leftBar(view, record, heightMm),
      },
    ];
  });
  return { widthPx: width, heightPx: height, features, corners, caption: name };
}

/** Where it ought to be after offset and turn, and the way from there to where it is. */
function leftBar(
  view: FeatureView,
  record: FixtureFeatureRecord,
  heightMm: number,
): Pick<FixtureOverlayFeature, 'left'> {
  const { machine } = record;
  const left = record.asUsed ?? record.asPlaced;
  if (machine === undefined || left === undefined) return {};
  const from: Place = [machine.x - left.dx, machine.y - left.dy];
  const { byPlace } = localPlane(view, from, heightMm);
  const [ux, uy, vx, vy] = byPlace;
  return {
    left: {
      from: view.imageAt(from[0], from[1], heightMm),
      byPx: [ux * left.dx + uy * left.dy, vx * left.dx + vy * left.dy],
    },
  };
}

function foundOutline(
  feature: LayoutFeature,
  { values }: MeasuredPlace,
  { machine, diameter }: FixtureFeatureRecord,
): Place[] {
  if (feature.kind === 'edge') {
    const [ax, ay] = acrossEdge(feature);
    const { fromMm, toMm } = feature;
    return [
      [fromMm[0] + values[0] * ax, fromMm[1] + values[0] * ay],
      [toMm[0] + values[1] * ax, toMm[1] + values[1] * ay],
    ];
  }
  const [x, y] = nominalOf(feature);
  const offset: Place = machine === undefined ? [0, 0] : [machine.x - x, machine.y - y];
  return outlineOf(feature, offset, diameter?.value);
}

function outlineOf(feature: LayoutFeature, [dx, dy]: Place, foundDiameterMm?: number): Place[] {
  if (feature.kind === 'edge') return [feature.fromMm, feature.toMm];
  const [x, y] = [feature.atMm[0] + dx, feature.atMm[1] + dy];
  if (feature.kind === 'corner') {
    const [a, b] = feature.edgesRad;
    const arm = (rad: number): Place => [
      x + feature.armMm * Math.cos(rad),
      y + feature.armMm * Math.sin(rad),
    ];
    return [arm(a), [x, y], arm(b)];
  }
  const radius = (foundDiameterMm ?? feature.diameterMm ?? NO_DIAMETER_MM) / 2;
  return Array.from({ length: ROUND_SIDES + 1 }, (_, k): Place => {
    const turn = (2 * Math.PI * k) / ROUND_SIDES;
    return [x + radius * Math.cos(turn), y + radius * Math.sin(turn)];
  });
}
