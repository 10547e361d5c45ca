/** Years of a machine: what a history would hold, with the truth chosen. */

import { createRandomSource } from '../../samples/random-source.js';
import type { MarksAge } from '../../shared/history-kinds.js';
import type { MachineDrift } from '../../shared/schemas/drift.js';
import { findDrifts } from '../../src/drift/index.js';
import type {
  EventRow,
  HistoryRow,
  MeasurementRow,
  QuantityName,
} from '../../src/history/index.js';

/** rad, ratio, mm. */
interface Noise {
  readonly value: number;
  /** From one measurement to the next. */
  readonly random: number;
  /** The same in all measurements: one camera, one tape. */
  readonly common: number;
}

/**
 * As eight photos and two taped lengths of the sample show them: stated u of squareness 0.07 mm/m, of scale
 * 0.38 mm/m; a good part of it is the same every time.
 */
const USUAL: Partial<Record<QuantityName, Noise>> = {
  squareness: { value: 0.05e-3, random: 0.05e-3, common: 0.05e-3 },
  'scale.x': { value: 0.02e-3, random: 0.25e-3, common: 0.28e-3 },
  'scale.y': { value: -0.04e-3, random: 0.25e-3, common: 0.28e-3 },
  'scale.ratio': { value: 0.06e-3, random: 0.05e-3, common: 0.05e-3 },
  'lostMotion.x': { value: 0.02, random: 0.001, common: 0.0005 },
  'lostMotion.y': { value: 0.03, random: 0.001, common: 0.0005 },
  'straightness.x': { value: 0.06, random: 0.0022, common: 0.001 },
  'straightness.y': { value: 0.02, random: 0.002, common: 0.001 },
  racking: { value: 0, random: 0.05e-3, common: 0.05e-3 },
};

export interface YearsScene {
  readonly seed: number;
  readonly weeks: number;
  /** Change per day from the first day on. */
  readonly slopes?: Partial<Record<QuantityName, number>>;
  /** Growth of the board, both scales: ratio at a week. */
  readonly growth?: (week: number) => number;
  /** % relative humidity at a week. */
  readonly humidity?: (week: number) => number;
  readonly marks?: MarksAge;
  readonly board?: string;
  readonly events?: readonly EventRow[];
  readonly noise?: Partial<Record<QuantityName, Noise>>;
}

const START = Date.UTC(2024, 0, 8, 10);
const WEEK_DAYS = 7;
export const DAY_MS = 86_400_000;
export const MACHINE = 'Simulated router';

export function simulateYears(scene: YearsScene): MeasurementRow[] {
  const random = createRandomSource(scene.seed);
  const noise = { ...USUAL, ...scene.noise };
  const names = Object.keys(noise) as QuantityName[];
  const common = new Map(names.map((name) => [name, noise[name]!.common * random.normal()]));
  return Array.from({ length: scene.weeks }, (_, week) => {
    const day = WEEK_DAYS * week;
    const growth = scene.growth?.(week) ?? 0;
    const quantities = Object.fromEntries(
      names.map((name) => {
        const { value, random: sigma, common: shared } = noise[name]!;
        const drifted = value + (scene.slopes?.[name] ?? 0) * day;
        const board = name === 'scale.x' || name === 'scale.y' ? growth : 0;
        const seen = drifted + board + common.get(name)! + sigma * random.normal();
        return [name, { state: 'measured', value: seen, u: Math.hypot(sigma, shared) }];
      }),
    );
    const humidity = scene.humidity?.(week);
    return {
      kind: 'measurement',
      id: week + 1,
      machine: MACHINE,
      at: new Date(START + day * DAY_MS).toISOString(),
      board: {
        ...(scene.board === undefined ? {} : { id: scene.board }),
        material: 'mdf',
        marks: scene.marks ?? 'fresh',
      },
      ...(humidity === undefined ? {} : { humidity }),
      quantities,
    };
  });
}

/** What `drift` would say after each of the measurements. */
export function lookAt(rows: readonly HistoryRow[]): MachineDrift {
  const asOf = new Date(rows.at(-1)!.at);
  return findDrifts(rows, { asOf })[0]!;
}

/** Quantities of the machine that are called. */
export function calledIn(drift: MachineDrift): string[] {
  return drift.series
    .flatMap(({ quantities }) => quantities)
    .filter(({ verdict }) => verdict === 'drifts' || verdict === 'jumped')
    .map(({ what }) => what);
}

export interface Called {
  /** Week of the first call; undefined for none. */
  readonly week?: number;
  readonly what: readonly string[];
}

/** Looks after every measurement from the third on, as a careful owner does. */
export function firstCall(rows: readonly MeasurementRow[], of?: QuantityName): Called {
  for (let n = 3; n <= rows.length; n++) {
    const what = calledIn(lookAt(rows.slice(0, n)));
    if (of === undefined ? what.length > 0 : what.includes(of)) return { week: n - 1, what };
  }
  return { what: [] };
}
