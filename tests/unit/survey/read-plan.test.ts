import { readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { planFiles } from '../../../src/plan/index.js';
import { unwrap } from '../../../src/quantity/index.js';
import { readPlan } from '../../../src/survey/read-plan.js';
import { emptyFolder } from '../../cli/run-gantrue.js';
import { BENCH } from '../plan/plan-choices.js';

describe('the record of a plan', () => {
  let folder: Awaited<ReturnType<typeof emptyFolder>>;
  const at = (name: string) => join(folder.path, name);
  beforeAll(async () => {
    folder = await emptyFolder();
    const { files } = unwrap(planFiles(BENCH, { form: 'flat', toolVersion: '0' }));
    for (const { name, content } of files) await writeFile(at(name), content);
  });
  afterAll(async () => folder.remove());

  it('gives the strokes of its program', async () => {
    const { strokes, name, record } = unwrap(await readPlan(at('plan.json')));
    expect(name).toBe('grid.ngc');
    expect(strokes.length).toBe(record.strokes.length);
    const first = strokes.find(({ fromMm, toMm }) => fromMm[0] === 100 && toMm[0] === 100)!;
    expect(first).toMatchObject({ fromMm: [100, -6], toMm: [100, 75], approachX: 1, approachY: 1 });
  });

  it('is refused where the program beside it was changed', async () => {
    const text = await readFile(at('grid.ngc'), 'utf8');
    await writeFile(at('grid.ngc'), text.replace('G1 X100 Y75', 'G1 X100 Y76'));
    const changed = await readPlan(at('plan.json'));
    await writeFile(at('grid.ngc'), text);
    expect(changed.ok).toBe(false);
    if (changed.ok) return;
    expect(changed.failure.code).toBe('PLAN_INVALID');
    expect(changed.failure.hint).toContain('--program');
  });

  it('is refused where it is none', async () => {
    const whole = JSON.parse(await readFile(at('plan.json'), 'utf8'));
    for (const [content, named] of [
      ['{', 'no JSON'],
      ['{}', 'schema'],
      [JSON.stringify({ ...whole, strokes: [{}] }), 'strokes.0'],
    ] as const) {
      await writeFile(at('broken.json'), content);
      const refused = await readPlan(at('broken.json'));
      expect(refused.ok ? '' : refused.failure.code).toBe('PLAN_INVALID');
      expect(refused.ok ? '' : refused.failure.message).toContain(named);
    }
    const missing = await readPlan(at('nowhere.json'));
    expect(missing.ok ? '' : missing.failure.code).toBe('FILE_MISSING');
  });
});
