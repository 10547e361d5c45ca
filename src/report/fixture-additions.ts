/** What of a fixture is not told, and what would tell it. */

import type { FixtureFeatureRecord, FixtureResult } from '../../shared/schemas/fixture.js';
import { leftOf } from './fixture-words.js';

export function fixtureAdditions(result: FixtureResult): string[] {
  return [
    ...unseenTexts(result),
    ...openTexts(result),
    ...causeTexts(result),
    ...machineTexts(result),
  ];
}

function unseenTexts({ features, points }: FixtureResult): string[] {
  return numbered(features).flatMap(({ number, feature: { name, state, reason } }) => {
    if (state === 'found') return [];
    const add =
      points !== undefined
        ? 'to add: its row in the points file'
        : state === 'covered'
          ? 'to add: a photo in which it is uncovered'
          : 'to add: a sharper photo from above it, or its true size and height in the layout';
    return [`${number} ${name}: ${state}${reason === undefined ? '' : `, ${reason}`}; ${add}`];
  });
}

function openTexts({ features, points }: FixtureResult): string[] {
  const open = numbered(features).filter(
    ({ feature }) => leftOf(feature)?.verdict === 'cannot tell',
  );
  if (open.length === 0) return [];
  const isHeightOpen = open.some(({ feature }) => feature.height?.known === false);
  const add =
    points !== undefined
      ? 'measure them more finely, with a smaller u'
      : [
          ...(isHeightOpen ? ['the height of their rims in the layout'] : []),
          'sharper and closer photos from above, from two sides and more',
        ].join('; ');
  return [
    `whether ${open.map(({ number, feature }) => `${number} ${feature.name}`).join(', ')} ${open.length === 1 ? 'is' : 'are'} within tolerance: the tolerance lies within the uncertainty; to add: ${add}`,
  ];
}

function causeTexts({ cause, features }: FixtureResult): string[] {
  if (cause === undefined) {
    return ['the cause: too few features were found; to add: two or more, far apart'];
  }
  const isPlaceOpen = cause.placement.named === undefined;
  const isShapeOpen = cause.shape.named === undefined;
  if (!isPlaceOpen && !isShapeOpen) return [];
  const what = [
    ...(isShapeOpen ? [`its pattern (${(cause.shape.between ?? []).join('; ')})`] : []),
    ...(isPlaceOpen ? [`its place (${(cause.placement.between ?? []).join('; ')})`] : []),
  ].join(' and ');
  const few = features.length < ENOUGH_FEATURES ? 'more features, far apart both ways; ' : '';
  return [
    `which explanation holds of ${what}: none has 95 % of the belief; to add: ${few}smaller uncertainties (photos, heights), and in the layout how closely each was made (scatter)`,
  ];
}

/** With so many more of them seldom settle a cause. */
const ENOUGH_FEATURES = 8;

function machineTexts({ machine }: FixtureResult): string[] {
  return [
    ...(machine.squareness === undefined
      ? ['the machine’s squareness; to add: a measurement of the machine that fixes it']
      : []),
    ...(machine.scaleX === undefined
      ? ['how the machine’s scales differ; to add: a measurement of the machine that fixes it']
      : []),
    ...(machine.scaleKnown
      ? []
      : [
          'true millimetres: no known length ties the board to the metre; to add: a taped length in the evidence of the measurement',
        ]),
  ];
}

function numbered(features: readonly FixtureFeatureRecord[]) {
  return features.map((feature, i) => ({ number: i + 1, feature }));
}
