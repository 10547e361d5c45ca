/** The report on a fixture: every figure is read back from its drawing, every table cell from the result. */
import { describe, expect, it } from 'vitest';
import { fixtureHtml, fixtureText, reportHtml } from '../../../src/report/index.js';
import { fullFixture } from '../../browser/full-fixture.js';
import { makeMeasurement } from './make-measurement.js';
import { readChart, readRows } from './read-chart.js';

const result = fullFixture('jig');
const html = fixtureHtml(result, []);
const EVIL = `<script>alert("x")</script>'&`;

/** Drawing units to a tenth, over a map some 550 of them wide. */
const near = (own: number, expected: number) =>
  expect(Math.abs(own - expected)).toBeLessThan(440 / 550);

interface Arrow {
  readonly from: readonly [number, number];
  readonly to: readonly [number, number];
  readonly tip: 'disc' | 'square' | 'diamond';
}

function arrowsOf(text: string): Arrow[] {
  const group = /<g class="error">(.*?)<\/g>/s.exec(text)![1]!;
  return [
    ...group.matchAll(
      /<line x1="([\d.-]+)" y1="([\d.-]+)" x2="([\d.-]+)" y2="([\d.-]+)"\/><(circle|rect|path)/g,
    ),
  ].map(([, x1, y1, x2, y2, tip]) => ({
    from: [Number(x1), Number(y1)],
    to: [Number(x2), Number(y2)],
    tip: ({ circle: 'disc', rect: 'square', path: 'diamond' } as const)[tip as 'circle'],
  }));
}

const factorOf = (text: string) => Number(/deviations × ([\d.]+)/.exec(text)![1]);
const found = result.features.filter(({ state }) => state === 'found');

describe.each([
  ['As it lies', 'asPlaced'],
  ['What is left after offset and turn', 'asUsed'],
] as const)('the map "%s"', (title, key) => {
  const { text, x, y } = readChart(html, title);
  const factor = factorOf(text);

  it('has an arrow from each nominal place, as long as the deviation times the stated factor', () => {
    const arrows = arrowsOf(text);
    expect(arrows).toHaveLength(found.length);
    found.forEach(({ nominal, ...feature }, k) => {
      const { from, to } = arrows[k]!;
      near(x(from[0]), nominal.x);
      near(y(from[1]), nominal.y);
      near(x(to[0]), nominal.x + factor * feature[key]!.dx);
      near(y(to[1]), nominal.y + factor * feature[key]!.dy);
    });
  });

  it('tells the verdicts apart by the shape of the tip', () => {
    const shape = { inside: 'disc', outside: 'square', 'cannot tell': 'diamond', none: 'disc' };
    expect(arrowsOf(text).map(({ tip }) => tip)).toEqual(
      found.map(({ asUsed }) => shape[asUsed!.verdict ?? 'none']),
    );
  });

  it('crosses out what was not found, and numbers every feature', () => {
    expect(text.match(/class="unseen"/g)).toHaveLength(1);
    const numbers = /<g class="numbers">(.*?)<\/g>/s.exec(text)![1]!;
    expect([...numbers.matchAll(/>(\d+)<\/text>/g)].map(([, one]) => Number(one))).toEqual([
      1, 2, 3, 4, 5, 6, 7,
    ]);
  });

  it('has a bar as long as the error that it states', () => {
    const bar = /<g class="bar"><line x1="([\d.]+)" x2="([\d.]+)".*?>([\d.]+) mm of error/s.exec(
      text,
    )!;
    near(x(Number(bar[2])) - x(Number(bar[1])), factor * Number(bar[3]));
  });

  it('says in words what it shows', () => {
    const words = /aria-label="([^"]+)"/.exec(text)![1]!;
    expect(words).toContain(`drawn ${factor} times larger`);
    expect(words).toMatch(/the longest is that of 4 D, 0\.\d+ mm/);
    expect(words).toMatch(/bar stands for [\d.]+ mm of error/);
  });
});

describe('the map of what is left', () => {
  it('draws each tolerance zone to the scale of the arrows; an edge has none', () => {
    const { text, x } = readChart(html, 'What is left');
    const zones = [...text.matchAll(/<circle cx="[\d.]+" cy="[\d.]+" r="([\d.]+)"\/>/g)].filter(
      ([, r]) => r !== '3',
    );
    expect(zones).toHaveLength(4);
    for (const [, r] of zones) near(x(Number(r)) - x(0), (factorOf(text) * 0.3) / 2);
  });
});

describe('maps of other fixtures', () => {
  const only = (count: number) => ({ ...result, features: result.features.slice(0, count) });

  it.each([1, 2])('of %d features keep arrows and bar inside', (count) => {
    const { text } = readChart(fixtureHtml(only(count), []), 'As it lies');
    const [, , , width, height] = /viewBox="(\d+) (\d+) (\d+) ([\d.]+)"/.exec(text)!.map(Number);
    for (const { from, to } of arrowsOf(text)) {
      for (const [u, v] of [from, to]) {
        expect(u).toBeGreaterThan(0);
        expect(u).toBeLessThan(640);
        expect(v).toBeGreaterThan(0);
        expect(v).toBeLessThan(height ?? width!);
      }
    }
  });

  it('that is narrow and long is no higher than a page lets it', () => {
    const features = result.features.map((one) => ({
      ...one,
      nominal: { x: one.nominal.y / 100, y: 3 * one.nominal.x },
    }));
    const { text } = readChart(fixtureHtml({ ...result, features }, []), 'As it lies');
    expect(Number(/viewBox="0 0 640 ([\d.]+)"/.exec(text)![1])).toBeLessThan(800);
  });
});

describe('the tables of a fixture', () => {
  it('hold every feature as the result has it', () => {
    const rows = readRows(html, 'Features');
    expect(rows).toHaveLength(result.features.length + 1);
    const [name, left, off, nominal, place, built] = rows[4]!.map((cell) =>
      cell.replace(/\s+/g, ' '),
    );
    expect(name).toBe('4 D hole');
    expect(nominal).toBe('X 400 Y 250');
    // U = 2 × 0.01 and 2 × 0.012 mm.
    expect(place).toBe('X 400.820 ± 0.020 Y 250.320 ± 0.024');
    expect(off).toBe('X +0.820 Y +0.320');
    // 2 √(0.7² + 0.02²) = 1.4006.
    expect(left).toBe('1.401 ± 0.050 mm OUTSIDE 0.3 mm');
    expect(built).toBe('0.700 ± 0.050 mm OUTSIDE');
    expect(rows[7]!.join(' ')).toContain('covered : jig');
    expect(rows[5]![1]).toMatch(/no tolerance$/);
  });

  it('hold the explanations with their belief, likeliest first', () => {
    expect(readRows(html, 'Explanations that were tried').slice(1)).toEqual([
      ['shifted and rotated', 'D off', '97 %', '8.2', '7'],
      ['shifted and rotated', 'pattern stretched (two scales)', '3.0 %', '120.4', '7'],
    ]);
  });

  it('say how it was looked at, and the digests of the files', () => {
    const about = readRows(html, 'About this fixture').map((row) => row.join(': '));
    expect(about).toContain('Looked for within: 3 mm');
    expect(about).toContain('Tolerances: 0.3 mm (2 of 7 without)');
    expect(about.join('; ')).toContain(
      'from jig.json: scale X 1.300 mm/m, scale Y −0.100 mm/m (against each other alone), squareness 0.850 mm/m',
    );
    expect(readRows(html, 'Files and their SHA-256')[0]).toEqual(['jig.yaml', 'a'.repeat(64)]);
  });
});

describe('the report on a fixture', () => {
  it('begins with the verdict in one sentence', () => {
    expect(html).toContain(
      '<p class="verdict">jig: D is off, the others agree; D is outside its tolerance; for C it cannot be told; G was not measured.</p>',
    );
  });

  it('lists what is out of tolerance as text', () => {
    const part = html.slice(html.indexOf('<h2>Out of tolerance'));
    expect(part.slice(0, part.indexOf('</section>'))).toContain(
      '<li>4 D: 1.401 ± 0.050 mm left of 0.3 mm allowed (X +0.700, Y +0.020 mm)</li>',
    );
  });

  it('says where no tolerance is stated, and where nothing is outside', () => {
    const bare = result.features.map(({ tolerance: _, ...one }) => one);
    expect(fixtureHtml({ ...result, features: bare }, [])).toContain(
      'The layout states no tolerance',
    );
    const good = result.features.filter(({ name }) => name !== 'D');
    expect(fixtureHtml({ ...result, features: good }, [])).toContain(
      'No feature was found outside its tolerance',
    );
  });

  it('says the same as the terminal', () => {
    const text = fixtureText(result, { units: 'mm', colour: false, width: 80 }).replace(
      /\s+/g,
      ' ',
    );
    for (const words of [
      'One feature is off, D; the others agree.',
      'It is shifted and rotated.',
      'bring the +X end 0.600 ± 0.030 mm toward −Y',
      'work offset moved by X 0.700 ± 0.030 mm, Y −0.500 ± 0.030 mm',
      'D lies X +0.700, Y +0.020 mm from where the others put it',
      'switch the rotation off before homing',
    ]) {
      expect(text).toContain(words);
      expect(html).toContain(words);
    }
  });

  it('says what is undetermined and what to add', () => {
    const part = html.slice(html.indexOf('<h2>Undetermined'));
    const own = part.slice(0, part.indexOf('</section>'));
    expect(own).toContain('7 G: covered, jig; to add: a photo in which it is uncovered');
    expect(own).toContain('whether 3 C is within tolerance');
    expect(own).toContain('no known length ties the board to the metre');
  });

  it('speaks inches where asked', () => {
    const inches = fixtureHtml(result, [], 'in');
    // 0.82 mm, 0.32 mm.
    expect(inches).toContain('X +0.0323<br>Y +0.0126');
    expect(inches).toContain('X, in');
    expect(inches).not.toMatch(/\d mm\b/);
  });

  it('stands as a part in the report of a measurement', () => {
    const page = reportHtml(makeMeasurement(), [], 'mm', {
      fixtures: [{ result, pictures: [{ photo: 'jig.jpg', jpeg: new Uint8Array([255, 216]) }] }],
    });
    expect(page).toContain('<h2>Fixture jig</h2>');
    expect(page.match(/<h1>/g)).toHaveLength(1);
    expect(readChart(page, 'As it lies').text).toBe(readChart(html, 'As it lies').text);
    expect(page).toContain('id="zoom-fixture-0-0"');
    expect(page).toContain('alt="Photo jig.jpg with each feature');
  });

  it('fetches nothing, runs nothing, and escapes every text from outside', () => {
    const page = fixtureHtml(fullFixture(EVIL), [{ photo: EVIL, jpeg: new Uint8Array([255]) }]);
    expect(page).not.toMatch(/<script|<link|<iframe|\son\w+=/i);
    expect(page.match(/(?:src|href)="(?!data:)/g)).toBeNull();
    expect(
      page.split('&lt;script&gt;alert(&quot;x&quot;)&lt;/script&gt;&#39;&amp;').length,
    ).toBeGreaterThan(15);
    expect(page).not.toMatch(/NaN|Infinity|undefined</);
  });
});
