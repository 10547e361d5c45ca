import { readFile, writeFile } from 'node:fs/promises';
import { describe, expect, it } from 'vitest';
import {
  exportCsv,
  exportJson,
  importEntries,
  listEntries,
  loadEntries,
  readExport,
} from '../../../src/history/index.js';
import { success, unwrap } from '../../../src/quantity/index.js';
import { eventEntry, measurementEntry, NOW, newHistoryPath, read, write } from './make-history.js';

/** RFC 4180, section 2. */
function parseCsv(text: string): string[][] {
  const rows: string[][] = [[]];
  for (const [, quoted, plain, end] of text.matchAll(
    /(?:"((?:[^"]|"")*)"|([^",\r\n]*))(,|\r\n)/g,
  )) {
    rows.at(-1)!.push(quoted?.replaceAll('""', '"') ?? plain!);
    if (end === '\r\n') rows.push([]);
  }
  return rows.filter((row) => row.length > 0);
}

describe('the export as JSON', () => {
  it('read again is the same history', async () => {
    const path = await newHistoryPath();
    const entries = [measurementEntry({ marks: 'old' }), eventEntry('crash “hard”\n, "again"')];
    await write(path, (history) => success(importEntries(history, entries)));
    const all = await read(path, (history) => loadEntries(history));
    const file = `${path}.json`;
    await writeFile(file, exportJson(all, NOW, '1.2.3'));
    expect(unwrap(await readExport(file))).toEqual(all);
    expect(JSON.parse(await readFile(file, 'utf8'))).toMatchObject({
      schema: 'gantrue/history/1',
      tool: { version: '1.2.3' },
    });
  });

  it('that was spoilt is refused with the place', async () => {
    const file = `${await newHistoryPath()}.json`;
    const whole = JSON.parse(exportJson([eventEntry('moved')], NOW, '1'));
    whole.entries[0].at = 'yesterday';
    for (const [text, words] of [
      ['{', 'no JSON'],
      ['{"schema":"gantrue/plan/1"}', 'schema'],
      [JSON.stringify(whole), 'entries.0.at'],
    ] as const) {
      await writeFile(file, text);
      const refused = await readExport(file);
      expect(refused.ok ? 'read' : refused.failure.code).toBe('HISTORY_EXPORT_INVALID');
      expect(refused.ok ? '' : refused.failure.message).toContain(words);
    }
  });
});

describe('the export as CSV', () => {
  it('has slopes in mm/m and lengths in mm, each under its name', async () => {
    const path = await newHistoryPath();
    await write(path, (history) => success(importEntries(history, [measurementEntry()])));
    const { text } = exportCsv(await read(path, (history) => listEntries(history)));
    const [header, row] = parseCsv(text);
    const cell = (name: string) => row![header!.indexOf(name)];
    expect(cell('squareness_mm_per_m')).toBe('0.85');
    expect(cell('squareness_u')).toBe('0.03');
    expect(cell('scale.y_mm_per_m')).toBe('-0.1');
    expect(cell('lostMotion.y_mm')).toBe('0.14');
    expect(row).toHaveLength(header!.length);
  });

  it('lets no text of the user run as a formula, and counts what it changed', async () => {
    const path = await newHistoryPath();
    const texts = [
      '=1+1',
      '+1',
      '-1',
      '@SUM(A1)',
      '\t=1',
      ' =1',
      '\r=1',
      'plain, "quoted"',
      "it's",
    ];
    const entries = texts.map((text, i) => ({ ...eventEntry('x'), text, machine: `m${i}` }));
    await write(path, (history) => success(importEntries(history, entries)));
    const { text, tamed } = exportCsv(await read(path, (history) => listEntries(history)));
    const [header, ...rows] = parseCsv(text);
    const found = rows.map((row) => row[header!.indexOf('text')]!);
    expect(found.filter((cell) => /^\s*[=+\-@]/.test(cell))).toEqual([]);
    expect(tamed).toBe(7);
    expect(found).toContain('plain, "quoted"');
    expect(found).toContain("it's");
    expect(found).toContain("'=1+1");
    expect(rows.every((row) => row.length === header!.length)).toBe(true);
  });
});
