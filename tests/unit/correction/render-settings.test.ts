import { describe, expect, it } from 'vitest';
import { propose, renderSettings } from '../../../src/correction/index.js';
import { unwrap } from '../../../src/quantity/index.js';
import { estimate, makeMeasurement } from '../report/make-measurement.js';

const AXES = {
  x: { stepsPerMm: 320 },
  y: { stepsPerMm: 84.883, drives: 2 as const, driveSpacing: 940 },
};

function render(settings: string | undefined, axes: object = AXES, changes = {}) {
  const machine = { gantryAxis: 'y' as const, axes, settings };
  return renderSettings(machine, propose(makeMeasurement(changes), machine, undefined));
}

describe("the shop's own settings template", async () => {
  it('gets the proposed value where one is proposed and the present one elsewhere', async () => {
    // scale X 1.3 ± 0.22 mm/m: 320 / 1.0013 = 319.58454, 2 % of U is 0.0014; scale Y is left alone
    const { text } = unwrap(
      await render('steps X = {{x.stepsPerMm}}\nsteps Y = {{ y.stepsPerMm }}\n'),
    )!;
    expect(text).toBe('steps X = 319.585\nsteps Y = 84.883');
  });

  it('loses a line of which no value is known, and says why', async () => {
    const { text, leftOut } = unwrap(await render('a {{x.lostMotion}}\nb {{y.lostMotion}}'))!;
    expect(text).toBe('b 0.140');
    expect(leftOut).toEqual([
      { line: 'a {{x.lostMotion}}', why: 'nothing is proposed for x.lostMotion' },
    ]);
  });

  it('gives the offset of the + side toward −, below 0 where the other side leads', async () => {
    // 0.94 m × 0.85 mm/m
    expect(unwrap(await render('{{squareness.offset}}'))?.text).toBe('0.799');
    const squareness = estimate(-0.85e-3, 0.05e-3, 'rad');
    expect(unwrap(await render('{{squareness.offset}}', AXES, { squareness }))?.text).toBe(
      '-0.799',
    );
  });

  it('with an unknown placeholder is refused, naming it and those that exist', async () => {
    const outcome = await render('a {{x.stepsPerInch}} {{z}}');
    expect(outcome.ok).toBe(false);
    if (outcome.ok) return;
    expect(outcome.failure.code).toBe('MACHINE_INVALID');
    expect(outcome.failure.message).toContain('{{x.stepsPerInch}}, {{z}}');
    expect(outcome.failure.hint).toContain('{{x.stepsPerMm}}');
  });

  it('may compute and decide, as Liquid does', async () => {
    // 319.585 × 25.4 = 8117.459
    const template =
      '{% if y.lostMotion %}play {{y.lostMotion}}{% endif %}{% if x.lostMotion %}none{% endif %}\n{{ x.stepsPerMm | times: 25.4 | round: 3 }}';
    expect(unwrap(await render(template))?.text).toBe('play 0.140\n8117.459');
  });

  it.each([
    ['is no template', '{{ x.stepsPerMm '],
    ['asks for a filter that does not exist', '{{ x.stepsPerMm | shell }}'],
    ['asks for a file of this computer', '{% include "/etc/hostname" %}'],
    ['never ends', '{% for i in (1..1000000000) %}x{% endfor %}'],
    ['reaches for what is no value', '{{ x.constructor.name }}'],
  ])('that %s is refused', async (_, template) => {
    const outcome = await render(template);
    if (outcome.ok) throw new Error(`accepted: ${outcome.value?.text}`);
    expect(outcome.failure.code).toBe('MACHINE_INVALID');
  });

  it('that is absent gives nothing', async () => {
    expect(unwrap(await render(undefined))).toBeUndefined();
  });
});
