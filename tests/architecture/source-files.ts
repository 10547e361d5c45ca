/** The project's own TypeScript files and what each of them imports. */

import { readdirSync, readFileSync } from 'node:fs';
import { dirname, join, relative, resolve, sep } from 'node:path';
import { fileURLToPath } from 'node:url';

export const ROOT = fileURLToPath(new URL('../..', import.meta.url));

export interface SourceFile {
  /** From the project's folder, with forward slashes. */
  readonly path: string;
  readonly text: string;
  /** Imported files of the project, as paths like `path`. */
  readonly imports: readonly string[];
  /** Imported packages, their scope included; Node's own modules are left out. */
  readonly packages: readonly string[];
}

/** Every `.ts` file below the named top-level folders. */
export function sourceFiles(folders: readonly string[]): SourceFile[] {
  return folders.flatMap((folder) =>
    readdirSync(join(ROOT, folder), { recursive: true, withFileTypes: true })
      .filter((entry) => entry.isFile() && entry.name.endsWith('.ts'))
      .map((entry) => readSource(join(entry.parentPath, entry.name))),
  );
}

function readSource(file: string): SourceFile {
  const text = readFileSync(file, 'utf8');
  const specifiers = importSpecifiers(text);
  return {
    path: fromRoot(file),
    text,
    imports: specifiers
      .filter((specifier) => specifier.startsWith('.'))
      .map((specifier) => fromRoot(resolve(dirname(file), specifier.replace(/\.js$/, '.ts')))),
    packages: specifiers
      .filter((specifier) => !/^(?:\.|node:)/.test(specifier))
      .map((specifier) => /^(?:@[^/]+\/)?[^/]+/.exec(specifier)![0]),
  };
}

/** Specifiers of `import … from`, `export … from`, `import '…'`, `import(…)` and `require(…)`. */
export function importSpecifiers(text: string): string[] {
  const form =
    /(?:^|[;}\s])(?:from\s*|import\s*)'([^']+)'|\b(?:import|require)\(\s*'([^']+)'\s*\)/gm;
  return [...text.matchAll(form)].map((match) => match[1] ?? match[2]!);
}

function fromRoot(file: string): string {
  return relative(ROOT, file).split(sep).join('/');
}
