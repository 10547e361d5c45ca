/** Fresh marks beside an old grid: one machine made both, nothing may be told to have changed. */
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Measurement } from '../../shared/schemas/measurement.js';
import { writeFlatProgram } from '../../src/plan/index.js';
import { readProgram } from '../../src/program/index.js';
import { unwrap } from '../../src/quantity/index.js';
import { plan } from '../unit/plan/plan-choices.js';
import { type PlannedPair, photographPair, surveyPair, writePair } from './turned-pair.js';

const TRAVEL = [620, 420] as const;

function programs(): PlannedPair['programs'] {
  const [old, fresh] = (['only', 'fresh'] as const).map((placement) => {
    const name = placement === 'only' ? 'grid.ngc' : 'fresh.ngc';
    const text = writeFlatProgram(plan({ travelMm: TRAVEL }, placement), name);
    const { strokes } = unwrap(readProgram(text, { name, marking: 'auto', blockDelete: false }));
    return { name, text, strokes };
  });
  return [old!, fresh!];
}

let folder = '';
let result: Measurement;

beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'gantrue-fresh-'));
  const pair = { programs: programs() };
  // Laid back by hand: a quarter turn less the quarter turn, and two tenths of a degree.
  const turn = { quarters: 1, offDeg: -89.8, offMm: [0.6, -0.4] } as const;
  const { jpeg } = await photographPair(pair, turn, 31, {
    widthPx: 3264,
    heightPx: 2448,
    tiltDeg: [1, 3],
    rolls: [0],
    markKind: 'burnt',
  });
  const written = await writePair(folder, pair, jpeg);
  const { measurement } = await surveyPair(written.photo, written.files);
  result = measurement;
}, 300_000);
afterAll(() => rm(folder, { recursive: true, force: true }));

describe('one photo of fresh marks beside old ones of the same machine', () => {
  it('tells no change of angle, scales or lost motion beyond 1.5 times U', () => {
    const { fresh } = result;
    if (fresh === undefined) throw new Error('nothing was compared');
    for (const change of [
      fresh.squareness,
      fresh.scale.ratio,
      fresh.lostMotion.x,
      fresh.lostMotion.y,
    ]) {
      if (change.state === 'undetermined') throw new Error(change.reason);
      expect(Math.abs(change.value)).toBeLessThan(1.5 * change.U);
    }
    expect(['nothing', 'open']).toContain(fresh.explainedBy);
  });

  it('leaves squareness itself to more photos: no turn lies between the two', () => {
    expect(result.methods?.[0]?.method).toBe('photos');
    expect(result.squareness.state).not.toBe('measured');
  });
});
