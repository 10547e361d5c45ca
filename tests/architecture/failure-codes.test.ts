import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { EXIT, FAILURE_CODES } from '../../shared/failure-codes.js';
import { ROOT, sourceFiles } from './source-files.js';

const README = readFileSync(join(ROOT, 'README.md'), 'utf8');
const SOURCES = sourceFiles(['src', 'cli', 'shared']);

describe('the failure codes', () => {
  const rows = tableRows('Failure codes');

  it('all stand in the README, with their exit code, and no others do', () => {
    const documented = rows.map(([code, exit]) => `${code} ${exit}`);
    const catalogue = Object.entries(FAILURE_CODES).map(([code, { exit }]) => `${code} ${exit}`);
    expect(documented.sort()).toEqual(catalogue.sort());
  });

  it('are each explained in words', () => {
    for (const [code, , meaning] of rows) expect(meaning!.length, code).toBeGreaterThan(15);
  });

  it('are each used somewhere', () => {
    const unused = Object.keys(FAILURE_CODES).filter(
      (code) =>
        !SOURCES.some(
          ({ path, text }) =>
            path !== 'shared/failure-codes.ts' &&
            (text.includes(`'${code}'`) || text.includes(`[${code}]`)),
        ),
    );
    expect(unused).toEqual([]);
  });
});

describe('the exit codes', () => {
  it('all stand in the README, and no others do', () => {
    const documented = tableRows('Exit codes').map(([exit]) => Number(exit));
    expect(documented.sort()).toEqual([...Object.values(EXIT)].sort());
  });
});

describe('the codes of findings', () => {
  it('all stand in the README, and no others do', () => {
    const raised = SOURCES.filter(({ path }) => path.startsWith('src/'))
      .flatMap(({ text }) => [...text.matchAll(/'([A-Z]+(?:_[A-Z]+)+)'/g)])
      .map((match) => match[1]!)
      .filter((code) => !(code in FAILURE_CODES));
    const documented = tableRows('Findings').map(([code]) => code);
    expect(documented.sort()).toEqual([...new Set(raised)].sort());
    expect(documented.length).toBeGreaterThan(5);
  });
});

/** Cells of the first table below a heading of the README, without head and rule. */
function tableRows(heading: string): string[][] {
  const lines = README.split('\n');
  const start = lines.findIndex((line) => /^#+ /.test(line) && line.endsWith(` ${heading}`));
  expect(start, `the README has a heading “${heading}”`).toBeGreaterThanOrEqual(0);
  const from = lines.findIndex((line, i) => i > start && line.startsWith('|'));
  const until = lines.findIndex((line, i) => i > from && !line.startsWith('|'));
  return lines.slice(from + 2, until < 0 ? undefined : until).map((line) =>
    line
      .split('|')
      .slice(1, -1)
      .map((cell) => cell.trim().replace(/^`|`$/g, '')),
  );
}
