/** What one set of photos reaches, over several ways in which hands may hold the phone. */

import { QUANTITY_KEYS, QUANTITY_UNIT } from '../../shared/quantity-keys.js';
import type { ForecastName, ForecastQuantity } from '../../shared/schemas/forecast.js';
import { COVERAGE_FACTOR, type Quantity } from '../../shared/schemas/measurement.js';
import {
  type ExpectedNetwork,
  estimateMachine,
  extentOf,
  foretellNetwork,
  type MachineEstimates,
  rankOf,
  viewOf,
} from '../network/index.js';
import { quantitiesByKey } from '../quantity/index.js';
import { countDraws, type PhotoGroup, viewsOf } from './photo-set.js';

export type PlannedNetwork = Omit<ExpectedNetwork, 'views'>;

export interface ForetoldSet {
  readonly quantities: readonly ForecastQuantity[];
  readonly mmPerPx: number;
}

type ByName = Readonly<Record<ForecastName, Quantity>>;

/** @returns undefined where the network is singular: fewer marks in view than unknowns. */
export function foretellDraw(
  network: PlannedNetwork,
  groups: readonly PhotoGroup[],
  draw: number,
): { readonly quantities: ByName; readonly mmPerPx: number } | undefined {
  const views = viewsOf(groups, extentOf(network), draw);
  const adjustment = foretellNetwork({ ...network, views });
  if (adjustment === undefined) return undefined;
  return {
    quantities: byName(estimateMachine(adjustment)),
    mmPerPx: viewOf(adjustment, 0).mmPerPx,
  };
}

/** @returns undefined where the network is singular. */
export function foretellSet(
  network: PlannedNetwork,
  groups: readonly PhotoGroup[],
): ForetoldSet | undefined {
  const all: NonNullable<ReturnType<typeof foretellDraw>>[] = [];
  for (let draw = 0; draw < countDraws(groups); draw++) {
    const one = foretellDraw(network, groups, draw);
    if (one === undefined) return undefined;
    all.push(one);
  }
  const quantities = QUANTITY_KEYS.map((what) =>
    summarise(
      what,
      all.map((draw) => draw.quantities[what]),
    ),
  );
  return { quantities, mmPerPx: all[0].mmPerPx };
}

/** The middle one by state and uncertainty, and the worst but one. */
function summarise(what: ForecastName, draws: readonly Quantity[]): ForecastQuantity {
  const sorted = [...draws].sort(
    (a, b) => rankOf(a.state) - rankOf(b.state) || sizeOf(a) - sizeOf(b),
  );
  const middle = sorted[sorted.length >> 1];
  const unlucky = sorted[sorted.length - 2];
  return {
    what,
    state: middle.state,
    unit: QUANTITY_UNIT[what],
    k: COVERAGE_FACTOR,
    ...(middle.state === 'undetermined' ? {} : { U: middle.U }),
    ...(middle.state === 'undetermined' || middle.share === undefined
      ? {}
      : { share: middle.share }),
    ...(middle.reason === undefined ? {} : { reason: middle.reason }),
    // A measurement's option for a length that was taped already.
    ...(middle.add === undefined
      ? {}
      : { add: middle.add.map((text) => text.replace('--known', '--taped')) }),
    unlucky: {
      state: unlucky.state,
      ...(unlucky.state === 'undetermined' ? {} : { U: unlucky.U }),
    },
  };
}

function sizeOf(quantity: Quantity): number {
  return quantity.state === 'undetermined' ? 0 : quantity.U;
}

function byName(estimates: MachineEstimates): ByName {
  const { periodic, drift } = estimates;
  return {
    ...quantitiesByKey(estimates),
    'periodic.x': periodic.x,
    'periodic.y': periodic.y,
    'drift.x': drift.x,
    'drift.y': drift.y,
  };
}
