import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { ROOT } from './source-files.js';

interface Locked {
  readonly license?: string;
  readonly dev?: boolean;
  readonly optional?: boolean;
  readonly hasInstallScript?: boolean;
  readonly resolved?: string;
  readonly integrity?: string;
}

/** What a program may be shipped with whoever uses it; the library of pictures is linked, not copied (LGPL). */
const ALLOWED = new Set([
  ...['MIT', 'ISC', 'Apache-2.0', 'BSD-3-Clause', '0BSD', 'BlueOak-1.0.0', '(MIT AND Zlib)'],
  ...[
    'LGPL-3.0-or-later',
    'Apache-2.0 AND LGPL-3.0-or-later',
    'Apache-2.0 AND LGPL-3.0-or-later AND MIT',
  ],
]);
/** States its licence in a file only: MIT. */
const IN_A_FILE = ['node_modules/exif-parser'];

const { packages } = JSON.parse(readFileSync(join(ROOT, 'package-lock.json'), 'utf8')) as {
  readonly packages: Readonly<Record<string, Locked>>;
};
const all = Object.entries(packages).filter(([path]) => path !== '');
const installed = all.filter(([, { dev }]) => dev !== true);

describe('packages that users install', () => {
  it('have licences that are known and allowed', () => {
    expect(installed.length).toBeGreaterThan(10);
    const wrong = installed
      .filter(([path, { license }]) => !ALLOWED.has(license ?? '') && !IN_A_FILE.includes(path))
      .map(([path, { license }]) => `${path}: ${license}`);
    expect(wrong).toEqual([]);
  });

  it('and those of contributors run no script when they are installed', () => {
    expect(
      all.filter(([, { hasInstallScript }]) => hasInstallScript).map(([path]) => path),
    ).toEqual([]);
  });

  it('are pinned by a digest', () => {
    expect(
      all.filter(([, { integrity }]) => integrity === undefined).map(([path]) => path),
    ).toEqual([]);
  });
});
