import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { importSpecifiers, ROOT, type SourceFile, sourceFiles } from './source-files.js';

/** Top-level folders and what each may import besides itself. */
const MAY_IMPORT: Record<string, readonly string[]> = {
  shared: [],
  src: ['shared'],
  samples: ['shared'],
  cli: ['shared', 'src', 'samples'],
};

/** Folders of the library: each imports only from those above it. */
const PIPELINE = [
  'quantity',
  'numerics',
  'program',
  'imaging',
  'marks',
  'machine',
  'network',
  'correction',
  'compensation',
  'comparison',
  'history',
  'drift',
  'fixture',
  'report',
  'plan',
  'survey',
  'forecast',
];

/** What may lie in the project's folder; what `.gitignore` names is not looked at. */
const TOP_LEVEL = [
  '.biome.json',
  '.bundle.js',
  '.ci',
  '.editorconfig',
  '.git',
  '.gitignore',
  'DEVELOPERS.md',
  'README.md',
  'cli',
  'package-lock.json',
  'package.json',
  'samples',
  'shared',
  'src',
  'tests',
  'tsconfig.json',
];

const FILES = sourceFiles(Object.keys(MAY_IMPORT));

describe('the order of folders', () => {
  it('is read from real imports', () => {
    expect(
      importSpecifiers(
        "import { a,\n b } from './a.js';\nexport * from 'b';\nconst { c } = await import(\n 'c'\n);\nimport 'd';\nrequire('e');",
      ),
    ).toEqual(['./a.js', 'b', 'c', 'd', 'e']);
    expect(FILES.length).toBeGreaterThan(100);
    expect(FILES.flatMap(({ imports }) => imports).length).toBeGreaterThan(300);
  });

  it('has no file that imports from a folder it may not know', () => {
    const wrong = crossings(FILES, topFolder).filter(
      ({ from, to }) => !MAY_IMPORT[from]?.includes(to),
    );
    expect(wrong).toEqual([]);
  });

  it('lets the command line into the library through its one door', () => {
    const wrong = crossings(FILES, topFolder).filter(
      ({ to, imported }) => to === 'src' && imported !== 'src/index.ts',
    );
    expect(wrong).toEqual([]);
  });

  it('lets samples be rendered by the command `simulate` alone', () => {
    const users = crossings(FILES, topFolder)
      .filter(({ from, to }) => from === 'cli' && to === 'samples')
      .map(({ file }) => file);
    expect([...new Set(users)].filter((file) => !/simulate/.test(file))).toEqual([]);
    expect(users).toContain('cli/simulate.ts');
  });

  it('lists every folder of the library once', () => {
    const folders = readdirSync(join(ROOT, 'src'), { withFileTypes: true })
      .filter((entry) => entry.isDirectory())
      .map(({ name }) => name);
    expect(folders.sort()).toEqual([...PIPELINE].sort());
  });

  it('runs one way inside the library, so that folders form no cycle', () => {
    const inside = FILES.filter(({ path }) => /^src\/[^/]+\//.test(path));
    const wrong = crossings(inside, libraryFolder)
      .filter(({ imported }) => topFolder(imported) === 'src')
      .filter(({ from, to }) => !(PIPELINE.indexOf(to) < PIPELINE.indexOf(from)));
    expect(wrong).toEqual([]);
  });
});

describe('the project folder', () => {
  it('holds nothing that has no place there', () => {
    const ignored = readFileSync(join(ROOT, '.gitignore'), 'utf8')
      .split('\n')
      .filter((line) => line !== '')
      .map((line) => line.replace(/\/$/, ''));
    const isIgnored = (name: string) =>
      ignored.some((line) => (line.startsWith('*') ? name.endsWith(line.slice(1)) : name === line));
    const found = readdirSync(ROOT).filter((name) => !isIgnored(name));
    expect(found.filter((name) => !TOP_LEVEL.includes(name))).toEqual([]);
  });

  it('has no folder or file whose name says nothing', () => {
    const empty = /(?:^|\/)(?:utils?|common|helpers?|misc)(?:\/|\.ts$)/;
    expect(FILES.map(({ path }) => path).filter((path) => empty.test(path))).toEqual([]);
  });
});

describe('the library', () => {
  const library = FILES.filter(({ path }) => path.startsWith('src/'));

  it('takes clock and random numbers from its callers', () => {
    // A date made of given figures is none of the clock.
    const own = /\bDate\.now\(|\bnew Date\(\s*\)|\bMath\.random\b/;
    expect(library.filter(({ text }) => own.test(text)).map(({ path }) => path)).toEqual([]);
    expect(own.test('const t = new Date( );')).toBe(true);
  });

  it('reads and writes files in imaging, history and survey only', () => {
    const io = /from '(?:node:)?(?:fs|fs\/promises|child_process|net|http|https)'/;
    const wrong = library
      .filter(({ text }) => io.test(text))
      .map(({ path }) => path)
      .filter((path) => !/^src\/(?:imaging|history|survey)\//.test(path));
    expect(wrong).toEqual([]);
  });

  it('never speaks to the streams or ends the process', () => {
    const streams = /\bconsole\.|\bprocess\.(?:stdout|stderr|exit|argv)\b/;
    expect(library.filter(({ text }) => streams.test(text)).map(({ path }) => path)).toEqual([]);
  });

  it('has no default exports', () => {
    const found = FILES.filter(({ text }) => /^export default/m.test(text));
    expect(found.map(({ path }) => path)).toEqual([]);
  });

  it('asks only for packages that package.json lists as needed to run', () => {
    const { dependencies } = JSON.parse(readFileSync(join(ROOT, 'package.json'), 'utf8'));
    const asked = new Set(FILES.flatMap(({ packages }) => packages));
    expect([...asked].filter((name) => !(name in dependencies))).toEqual([]);
  });
});

describe('the dependencies', () => {
  it('are each used, by the tool or by its tests', () => {
    const { dependencies } = JSON.parse(readFileSync(join(ROOT, 'package.json'), 'utf8'));
    const everywhere = sourceFiles([...Object.keys(MAY_IMPORT), 'tests']);
    const used = new Set(everywhere.flatMap(({ packages }) => packages));
    expect(Object.keys(dependencies).filter((name) => !used.has(name))).toEqual([]);
  });
});

interface Crossing {
  readonly file: string;
  readonly imported: string;
  readonly from: string;
  readonly to: string;
}

/** Imports that leave their folder. */
function crossings(
  files: readonly SourceFile[],
  folderOf: (path: string) => string,
): readonly Crossing[] {
  return files.flatMap(({ path, imports }) =>
    imports
      .map((imported) => ({ file: path, imported, from: folderOf(path), to: folderOf(imported) }))
      .filter(({ from, to }) => from !== to),
  );
}

function topFolder(path: string): string {
  return path.split('/')[0]!;
}

function libraryFolder(path: string): string {
  return path.split('/')[1]!;
}
