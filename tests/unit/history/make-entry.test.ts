import { describe, expect, it } from 'vitest';
import type { EvidenceFile } from '../../../shared/schemas/evidence.js';
import { historyPath, makeMeasurementEntry, readDay } from '../../../src/history/index.js';
import { unwrap } from '../../../src/quantity/index.js';
import { makeMeasurement } from '../report/make-measurement.js';
import { NOW } from './make-history.js';

const make = (evidence: EvidenceFile | undefined, takenAt?: string) => {
  const [photo] = makeMeasurement().photos;
  const measurement = makeMeasurement({ photos: [{ ...photo!, takenAt }] });
  return unwrap(makeMeasurementEntry({ measurement, evidence, circumstances: {}, now: NOW }));
};

describe('the age of marks', () => {
  const marked = { date: '2026-03-01', humidity: 40 };

  it('is fresh where they were photographed when they were made', () => {
    expect(make({ taken: '2026-03-01', marked }).board.marks).toBe('fresh');
    expect(make({ marked }, '2026:03:02 09:00:00').board.marks).toBe('fresh');
  });

  it('is old after months, and after a change of the air', () => {
    expect(make({ taken: '2026-06-01', marked }).board.marks).toBe('old');
    expect(make({ taken: '2026-03-05', humidity: 60, marked }).board.marks).toBe('old');
  });

  it('is unknown where nothing tells', () => {
    expect(make(undefined).board.marks).toBe('unknown');
    expect(make({ taken: '2026-03-01' }).board.marks).toBe('unknown');
    expect(make({ taken: '2026-03-01', marked: { temperature: 20 } }).board.marks).toBe('unknown');
  });
});

describe('the time of a measurement', () => {
  it('is that of the photos, on the day that the evidence states', () => {
    const local = new Date(2026, 2, 1, 9, 30, 5).toISOString();
    expect(make(undefined, '2026:03:01 09:30:05').at).toBe(local);
    expect(make({ taken: '2026-03-01' }, '2026:03:01 09:30:05').at).toBe(local);
    const noon = new Date(2026, 1, 27, 12).toISOString();
    expect(make({ taken: '2026-02-27' }, '2026:03:01 09:30:05').at).toBe(noon);
  });

  it('is that of the measuring where nothing else is known', () => {
    expect(make(undefined).at).toBe('2026-11-20T10:30:00.000Z');
  });

  it('is not believed of a camera whose clock was never set', () => {
    for (const clock of ['1980:01:01 00:00:10', '2061:05:01 10:00:00']) {
      expect(make(undefined, clock).at).toBe('2026-11-20T10:30:00.000Z');
    }
  });

  it('is not read from what is no date', () => {
    for (const text of [
      '',
      '2026',
      '2026-13-01',
      '2026-02-30',
      '01.02.2026',
      '2026-02-01 25:00x',
    ]) {
      expect(readDay(text), text).toBeUndefined();
    }
    expect(readDay('2024-02-29T10:00:00Z')?.toISOString()).toBe('2024-02-29T10:00:00.000Z');
    expect(readDay('2024-02-29 10:00+02:00')?.toISOString()).toBe('2024-02-29T08:00:00.000Z');
  });
});

describe('what an entry keeps', () => {
  it('is what was in force: steps, limits, the material of the bed', () => {
    const entry = unwrap(
      makeMeasurementEntry({
        measurement: makeMeasurement(),
        machine: {
          name: 'Big one',
          axes: { x: { drive: 'screw', stepsPerMm: 320, lead: 5 } },
          limits: { squareness: 0.1 },
          bed: { material: 'mdf' },
        },
        circumstances: {},
        now: NOW,
      }),
    );
    expect(entry).toMatchObject({
      machine: 'Big one',
      settings: { 'x.stepsPerMm': 320, 'x.lead': 5 },
      limits: { squareness: 0.1, scale: 0.2 },
      board: { material: 'mdf', marks: 'unknown' },
    });
  });

  it('needs a machine by name', () => {
    const { machine, ...nameless } = makeMeasurement();
    const made = makeMeasurementEntry({ measurement: nameless, circumstances: {}, now: NOW });
    expect(made.ok ? 'made' : made.failure.code).toBe('WRONG_CALL');
  });
});

describe('the place of the history', () => {
  it('follows the option, then the variable, then the customs of the system', () => {
    const env = { HOME: '/home/pat', GANTRUE_HISTORY: '/keep/h.db' };
    expect(historyPath('mine.db', env, 'linux')).toBe('mine.db');
    expect(historyPath(undefined, env, 'linux')).toBe('/keep/h.db');
    const bare = { HOME: '/home/pat' };
    expect(historyPath(undefined, bare, 'linux')).toBe('/home/pat/.local/share/gantrue/history.db');
    expect(historyPath(undefined, { ...bare, XDG_DATA_HOME: '/data' }, 'linux')).toBe(
      '/data/gantrue/history.db',
    );
    expect(historyPath(undefined, { ...bare, XDG_DATA_HOME: 'data' }, 'linux')).toBe(
      '/home/pat/.local/share/gantrue/history.db',
    );
    expect(historyPath(undefined, bare, 'darwin')).toBe(
      '/home/pat/Library/Application Support/gantrue/history.db',
    );
    expect(historyPath(undefined, { LOCALAPPDATA: '/users/pat/local' }, 'win32')).toBe(
      '/users/pat/local/gantrue/history.db',
    );
  });
});
