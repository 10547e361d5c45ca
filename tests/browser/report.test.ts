/// <reference lib="dom" />
/**
 * The report in a real browser: nothing leaves the file, nothing overflows, nothing is cut in print, axe finds no serious fault.
 * Needs Debian's chromium; without it these tests are skipped.
 */
import { existsSync, readFileSync } from 'node:fs';
import { writeFile } from 'node:fs/promises';
import { createRequire } from 'node:module';
import { join } from 'node:path';
import { type Browser, chromium, type Page } from 'playwright-core';
import sharp from 'sharp';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { fixtureHtml, reportHtml } from '../../src/report/index.js';
import { emptyFolder } from '../cli/run-gantrue.js';
import { fullFixture } from './full-fixture.js';
import { fullDrift, fullMeasurement } from './full-measurement.js';

const CHROMIUM = '/usr/bin/chromium';
const isThere = existsSync(CHROMIUM);
if (!isThere) console.log(`skipped: no browser at ${CHROMIUM} (apt-get install chromium)`);

/** Without these it looks for hosts of its maker. */
const QUIET = [
  '--no-sandbox',
  '--disable-gpu',
  '--disable-quic',
  '--no-first-run',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
];
const AXE = createRequire(import.meta.url).resolve('axe-core/axe.min.js');
const HOSTILE = '<img src=x onerror="document.title=1">"\'&</script><b>';
const WIDTHS = [360, 768, 1400];
/** A measurement with a fixture in it, and a fixture by itself; each has at least so many charts and figures. */
const PAGES = [
  { name: 'measurement.html', charts: 10 },
  { name: 'fixture.html', charts: 2 },
] as const;
const SCHEMES = ['light', 'dark'] as const;

interface AxeResult {
  readonly violations: readonly { readonly id: string; readonly impact: string | null }[];
}

describe.skipIf(!isThere)('the report in a browser', () => {
  let browser: Browser;
  let folder: Awaited<ReturnType<typeof emptyFolder>>;

  beforeAll(async () => {
    folder = await emptyFolder();
    const jpeg = await sharp({
      create: { width: 1600, height: 1200, channels: 3, background: '#b08040' },
    })
      .jpeg()
      .toBuffer();
    const measurement = fullMeasurement(HOSTILE);
    const pictures = [{ photo: measurement.photos[0]!.file, jpeg }];
    const fixture = { result: fullFixture(HOSTILE), pictures: [{ photo: HOSTILE, jpeg }] };
    const written = {
      'measurement.html': reportHtml(measurement, pictures, 'mm', {
        drift: fullDrift(HOSTILE),
        fixtures: [fixture],
      }),
      'fixture.html': fixtureHtml(fixture.result, fixture.pictures),
    };
    for (const { name } of PAGES) await writeFile(join(folder.path, name), written[name]);
    browser = await chromium.launch({ executablePath: CHROMIUM, args: QUIET });
  }, 120_000);
  afterAll(async () => {
    await browser?.close();
    await folder?.remove();
  });

  async function open(
    name: string,
    options: Parameters<Browser['newContext']>[0],
  ): Promise<{ page: Page; heard: string[] }> {
    const file = join(folder.path, name);
    const context = await browser.newContext(options);
    const page = await context.newPage();
    const heard: string[] = [];
    page.on('console', (message) => heard.push(message.text()));
    page.on('pageerror', (error) => heard.push(error.message));
    page.on('request', (request) => {
      const url = request.url();
      if (!url.startsWith('data:') && url !== `file://${file}`) heard.push(url);
    });
    await page.goto(`file://${file}`);
    return { page, heard };
  }

  describe.each(PAGES.flatMap((page) => SCHEMES.map((scheme) => ({ ...page, scheme }))))(
    '$name in $scheme',
    ({ name, charts, scheme: colorScheme }) => {
      it.each(WIDTHS)('at %d px stays inside its column, silent and by itself', async (width) => {
        const { page, heard } = await open(name, { viewport: { width, height: 900 }, colorScheme });
        for (const one of await page.locator('summary').all()) await one.click();
        const told = await page.evaluate(() => {
          const outside = [...document.querySelectorAll('svg.chart')].flatMap((svg) => {
            const box = svg.getBoundingClientRect();
            return [...svg.querySelectorAll('text, circle, rect, path, line')].filter((part) => {
              const own = part.getBoundingClientRect();
              return (
                own.left < box.left - 1 ||
                own.right > box.right + 1 ||
                own.top < box.top - 1 ||
                own.bottom > box.bottom + 1
              );
            });
          });
          return {
            overflow: document.documentElement.scrollWidth - document.documentElement.clientWidth,
            charts: document.querySelectorAll('svg.chart').length,
            outside: outside.map((part) => part.outerHTML),
            title: document.title,
            foreign: document.querySelectorAll('script, b, img[src=x]').length,
          };
        });
        expect(heard).toEqual([]);
        expect(told.overflow).toBe(0);
        expect(told.charts).toBeGreaterThanOrEqual(charts);
        expect(told.outside).toEqual([]);
        // Names with markup in them stay text.
        expect(told.title).toContain('<img');
        expect(told.foreign).toBe(0);
        await page.context().close();
      });

      it('has no fault that axe calls serious', async () => {
        const { page } = await open(name, {
          viewport: { width: 360, height: 900 },
          colorScheme,
          bypassCSP: true,
        });
        for (const one of await page.locator('summary').all()) await one.click();
        await page.addScriptTag({ content: readFileSync(AXE, 'utf8') });
        const { violations } = (await page.evaluate('axe.run()')) as AxeResult;
        const serious = violations.filter(
          ({ impact }) => impact === 'serious' || impact === 'critical',
        );
        expect(serious.map(({ id }) => id)).toEqual([]);
        await page.context().close();
      });
    },
  );

  it.each(
    PAGES.flatMap(({ name, charts }) => [
      ['A4', name, charts, 794, 1123] as const,
      ['Letter', name, charts, 816, 1056] as const,
    ]),
  )('printed on %s, %s cuts no figure', async (format, name, charts, widthPx, heightPx) => {
    const { page } = await open(name, { viewport: { width: widthPx, height: heightPx } });
    await page.emulateMedia({ media: 'print' });
    const pdf = await page.pdf({ format });
    expect(pdf.subarray(0, 5).toString()).toBe('%PDF-');
    // 15 mm of margin at 96 px per inch: what is lower than a page, and not allowed to break, fits on one.
    const room = heightPx - (2 * 15 * 96) / 25.4;
    const tall = await page.evaluate(() =>
      [...document.querySelectorAll('svg.chart, figure')].map((figure) => ({
        height: figure.getBoundingClientRect().height,
        breaks: getComputedStyle(figure).breakInside,
      })),
    );
    const wide = await page.evaluate(
      () => document.documentElement.scrollWidth - document.documentElement.clientWidth,
    );
    expect(wide).toBe(0);
    expect(tall.length).toBeGreaterThanOrEqual(charts);
    for (const { height, breaks } of tall) {
      expect(breaks).toBe('avoid');
      expect(height).toBeLessThan(room);
    }
    await page.context().close();
  });

  it.each(PAGES)('$name shows a photo large by keyboard alone', async ({ name }) => {
    const { page } = await open(name, { viewport: { width: 768, height: 900 } });
    const image = page.locator('figure.photo img').first();
    const before = (await image.boundingBox())!.width;
    await page.locator('.zoom input').first().focus();
    await page.keyboard.press('Space');
    expect((await image.boundingBox())!.width).toBe(1600);
    expect(before).toBeLessThan(769);
    await page.context().close();
  });
});
