/** A report that is written again: where its pictures come from. */
import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import sharp from 'sharp';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { unwrap } from '../../../src/quantity/index.js';
import { picturesInReport } from '../../../src/report/index.js';
import { rewriteReport } from '../../../src/survey/index.js';
import { makeMeasurement } from '../report/make-measurement.js';

const measurement = makeMeasurement();
const OVERLAY = measurement.photos[0]!.overlay!;
let folder = '';
const at = (name: string) => join(folder, name);

async function plain(colour: string): Promise<Buffer> {
  return sharp({ create: { width: 1600, height: 1200, channels: 3, background: colour } })
    .jpeg()
    .toBuffer();
}

async function rewrite(outDir = folder): Promise<Map<string, Buffer>> {
  unwrap(await rewriteReport(measurement, at('measurement.json'), outDir, { force: true }));
  return picturesInReport(await readFile(join(outDir, 'report.html'), 'latin1'));
}

/** Of the middle of a picture: red, green, blue. */
async function colourOf(jpeg: Buffer): Promise<number[]> {
  const { dominant } = await sharp(jpeg).stats();
  return [dominant.r, dominant.g, dominant.b];
}

beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'gantrue-rewrite-'));
  await writeFile(at('measurement.json'), JSON.stringify(measurement));
  await writeFile(at(OVERLAY), await plain('#e01010'));
});
afterAll(async () => {
  await rm(folder, { recursive: true, force: true });
});

describe('a report that is written again', () => {
  it('holds the picture beside it, as wide as a screen', async () => {
    const [jpeg] = [...(await rewrite()).values()];
    expect((await sharp(jpeg).metadata()).width).toBe(1200);
    const [red, green] = await colourOf(jpeg!);
    expect(red).toBeGreaterThan(200);
    expect(green).toBeLessThan(60);
  });

  it('takes it over from the earlier report as it is', async () => {
    // A mark that no encoder would leave: so it is known where it came from.
    const html = await readFile(at('report.html'), 'latin1');
    const [[digest, jpeg]] = [...picturesInReport(html)] as [[string, Buffer]];
    const marked = Buffer.concat([jpeg, Buffer.from('from the earlier report')]);
    await writeFile(
      at('report.html'),
      html.replace(jpeg.toString('base64'), marked.toString('base64')),
      'latin1',
    );
    expect((await rewrite()).get(digest)?.equals(marked)).toBe(true);
  });

  it('makes it anew where the picture beside it has changed', async () => {
    await writeFile(at(OVERLAY), await plain('#1010e0'));
    const [jpeg] = [...(await rewrite()).values()];
    const [red, , blue] = await colourOf(jpeg!);
    expect(blue).toBeGreaterThan(200);
    expect(red).toBeLessThan(60);
  });

  it('does without where there is none any more, and does not take one of another name', async () => {
    await rm(at(OVERLAY));
    expect((await rewrite()).size).toBe(0);
    await writeFile(at('other.jpg'), await plain('#10e010'));
    expect((await rewrite()).size).toBe(0);
  });
});

describe('the pictures in a report', () => {
  const digest = 'a'.repeat(64);
  const jpeg = Buffer.from([0xff, 0xd8, 1, 2, 3]).toString('base64');
  const image = (of: string, url: string) => `<img data-of="${of}" src="${url}" alt="">`;

  it('are found by their digests', () => {
    const found = picturesInReport(image(digest, `data:image/jpeg;base64,${jpeg}`));
    expect([...found.keys()]).toEqual([digest]);
    expect([...found.get(digest)!]).toEqual([0xff, 0xd8, 1, 2, 3]);
  });

  it.each([
    ['another place', image(digest, 'https://example.org/a.jpg')],
    ['another kind', image(digest, `data:image/svg+xml;base64,${jpeg}`)],
    ['no JPEG', image(digest, 'data:image/jpeg;base64,AAAA')],
    ['no digest', image('x'.repeat(64), `data:image/jpeg;base64,${jpeg}`)],
    ['no end', `<img data-of="${digest}" src="data:image/jpeg;base64,${jpeg}`],
  ])('of %s are passed over', (_, html) => {
    expect(picturesInReport(html).size).toBe(0);
  });
});
