/** Quantities that nothing tells, with the reason; and what is left of them where a half turn is open. */

import type { Measurement, Quantity } from '../../shared/schemas/measurement.js';
import type { MachineEstimates } from '../network/index.js';

/** What is told of the machine: some of it may not be known. */
export type ToldEstimates = Omit<MachineEstimates, 'straightnessCurve' | 'squarenessCorrelation'> &
  Partial<Pick<MachineEstimates, 'straightnessCurve' | 'squarenessCorrelation'>>;

type Open = Pick<Measurement, 'squareness' | 'scale' | 'lostMotion' | 'straightness' | 'racking'>;

const TURN_UNKNOWN = {
  reason: 'which way round the grid lies in the picture is not known',
  add: ['say in which corner of the picture the commanded origin lies (--origin)'],
};
const GRID_KNOWN = {
  reason:
    'the marks were taken to lie where they were commanded (--known-grid): what is left speaks of the camera alone',
  add: ['leave out --known-grid'],
};

/** Where nothing was adjusted. */
export function openForTurn(): Open {
  return openAll(TURN_UNKNOWN);
}

/** A grid that was taken for true tells nothing of the machine that marked it. */
export function openForKnownGrid({ evidence }: MachineEstimates): ToldEstimates {
  const open = openAll(GRID_KNOWN);
  const { lostMotion } = open;
  return { ...open, periodic: lostMotion, drift: lostMotion, deviations: [], evidence };
}

/** A half turn leaves squareness, scales and ranges alone; what has a direction or a place is open. */
export function knownUpToHalfTurn(all: MachineEstimates): ToldEstimates {
  const { straightnessCurve: _, ...rest } = all;
  const open = openForTurn();
  return {
    ...rest,
    lostMotion: {
      x: all.lostMotion.x.state === 'undetermined' ? all.lostMotion.x : open.lostMotion.x,
      y: all.lostMotion.y.state === 'undetermined' ? all.lostMotion.y : open.lostMotion.y,
    },
    racking: all.racking.state === 'undetermined' ? all.racking : open.racking,
    periodic: { x: withoutPhase(all.periodic.x), y: withoutPhase(all.periodic.y) },
    drift: {
      x: all.drift.x.state === 'undetermined' ? all.drift.x : open.lostMotion.x,
      y: all.drift.y.state === 'undetermined' ? all.drift.y : open.lostMotion.y,
    },
    deviations: [],
  };
}

function withoutPhase(
  quantity: MachineEstimates['periodic']['x'],
): MachineEstimates['periodic']['x'] {
  const known: typeof quantity & { phase?: number } = { ...quantity };
  delete known.phase;
  return known;
}

function openAll({ reason, add }: typeof TURN_UNKNOWN): Open {
  const open = (): Quantity => ({ state: 'undetermined', reason, add: [...add] });
  return {
    squareness: open(),
    scale: { x: open(), y: open(), ratio: open() },
    lostMotion: { x: open(), y: open() },
    straightness: { x: open(), y: open() },
    racking: open(),
  };
}
