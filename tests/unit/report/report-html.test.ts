import { describe, expect, it } from 'vitest';
import { judge, propose } from '../../../src/correction/index.js';
import { reportHtml } from '../../../src/report/index.js';
import { makeMeasurement, UNDETERMINED } from './make-measurement.js';

const EVIL = `<script>alert("x")</script>'&`;

function report(changes = {}, pictures: Parameters<typeof reportHtml>[1] = []): string {
  const measurement = makeMeasurement(changes);
  const verdicts = judge(measurement, undefined);
  const proposals = propose(measurement, undefined, undefined);
  return reportHtml({ ...measurement, verdicts, proposals }, pictures);
}

describe('the report', () => {
  it('fetches nothing and runs nothing', () => {
    const html = report();
    expect(html).not.toMatch(/<script|<link|<iframe|javascript:|\son\w+=/i);
    expect(html.match(/(?:src|href)="(?!data:)/g)).toBeNull();
    expect(html).toContain("default-src 'none'");
  });

  it('escapes every text that comes from outside', () => {
    const base = makeMeasurement();
    const html = report({
      machine: EVIL,
      photos: [{ file: EVIL, used: false, code: EVIL, reason: EVIL, hint: EVIL }],
      findings: [{ code: EVIL, message: EVIL, hint: EVIL, where: EVIL }],
      warnings: [EVIL],
      evidence: [{ ...base.evidence[0]!, what: EVIL }],
      camera: [{ ...base.camera[0]!, make: EVIL, model: EVIL }],
      squareness: { state: 'undetermined', reason: EVIL, add: [EVIL] },
    });
    expect(html).not.toContain('<script>');
    expect(
      html.split('&lt;script&gt;alert(&quot;x&quot;)&lt;/script&gt;&#39;&amp;').length,
    ).toBeGreaterThan(12);
  });

  it('says the same as the summary', () => {
    const html = report();
    for (const words of [
      '0.850 ± 0.060 mm/m',
      'the Y axis leans toward +X: 0.850 mm over 1000 mm',
      'OUTSIDE',
      'the +X side of the gantry is ahead toward +Y',
      'power isolated and locked out',
      'the marks are too blurred to be located',
      'two pieces of evidence disagree',
      '721.10 ± 0.40 mm',
    ]) {
      expect(html).toContain(words);
    }
  });

  it('says what is undetermined and what to add', () => {
    const html = report({ squareness: UNDETERMINED });
    expect(html).toContain('undetermined');
    expect(html).toContain('to add: tape one distance between two crossings');
  });

  it('draws both axes of the deviations, forward and reverse in different shapes', () => {
    const [, after] = report().split('Positioning line by line');
    const html = after!.split('</section>')[0]!;
    expect(html.match(/<svg class="chart"/g)).toHaveLength(2);
    // X: two lines marked both ways; Y: one marked forward only.
    expect(html.match(/<circle /g)).toHaveLength(3);
    expect(html.match(/<rect /g)).toHaveLength(2);
    expect(html).not.toMatch(/NaN|Infinity|undefined</);
  });

  it('holds its pictures, each with a text for those who cannot see it', () => {
    const html = report({}, [
      { photo: 'photos/photo-1.jpg', jpeg: new Uint8Array([255, 216, 255]) },
    ]);
    expect(html).toMatch(
      /<img src="data:image\/jpeg;base64,\/9j\/" alt="Photo photos\/photo-1\.jpg[^"]+">/,
    );
  });

  it('has a language, a title, headings in order and heads of columns', () => {
    const html = report();
    expect(html).toContain('<html lang="en">');
    expect(html).toContain('<title>Test router, 2026-11-20</title>');
    expect(html.match(/<h1>/g)).toHaveLength(1);
    for (const table of html.match(/<thead>.*?<\/thead>/gs) ?? []) {
      expect(table).not.toMatch(/<th>/);
    }
  });

  it('is written of a measurement without adjustment, photos or deviations too', () => {
    const html = report({
      adjustment: undefined,
      photos: [],
      deviations: [],
      evidence: [],
      camera: [],
    });
    expect(html).toContain('What was measured');
    expect(html).not.toContain('<h2>Adjustment</h2>');
  });
});
