import { execFileSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import { chmod, chown, copyFile, mkdir, readdir, readFile, rm, stat } from 'node:fs/promises';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { loadEntries, withHistory } from '../../src/history/index.js';
import { connect } from '../../src/history/sqlite.js';
import { unwrap } from '../../src/quantity/index.js';
import { startWriter } from './history-writers.js';
import { emptyFolder, runGantrue } from './run-gantrue.js';

/** `GANTRUE_KILLS=1000` for the long run. */
const KILLS = Number(process.env.GANTRUE_KILLS ?? 30);
/** Nobody's number on every Linux. */
const NOBODY = 65534;
const isRoot = process.getuid?.() === 0;

let folder: Awaited<ReturnType<typeof emptyFolder>>;
beforeAll(async () => {
  folder = await emptyFolder();
});
afterAll(() => folder.remove());

async function uidsIn(path: string): Promise<Set<string>> {
  const entries = unwrap(await withHistory(path, 'read', loadEntries));
  return new Set(entries.map(({ uid }) => uid));
}

async function integrity(path: string): Promise<unknown> {
  const connection = await connect(path, 'ro');
  const check = connection.prepare('PRAGMA integrity_check').all();
  const keys = connection.prepare('PRAGMA foreign_key_check').all();
  connection.close();
  return { check, keys };
}

describe('a history', () => {
  it(
    `loses no acknowledged record in ${KILLS} kills at random moments, and at most the one being added`,
    async () => {
      // This process reads between the kills: once it lost its locks by opening the file otherwise as well, and the
      // thirty kills found the log of changes taken away from under it (“malformed”).
      const random = uniformSource(20261126);
      let path = '';
      let acknowledged: string[] = [];
      let [all, unheard, files, killsHere] = [0, 0, 0, 0];
      for (let kill = 0; kill < KILLS; kill++) {
        // Every tenth begins a history of its own, so that kills fall into its beginning, too.
        const isFirst = kill % 10 === 0;
        if (isFirst) {
          path = join(folder.path, `killed-${++files}.db`);
          [acknowledged, killsHere] = [[], 0];
        }
        const writer = startWriter(path, 1_000_000);
        if (!isFirst) await writer.begun;
        await new Promise((resolve) => setTimeout(resolve, random() * (isFirst ? 500 : 60)));
        writer.child.kill('SIGKILL');
        await writer.ended;
        killsHere += 1;
        acknowledged.push(...writer.acknowledged);
        all += writer.acknowledged.length;
        if (acknowledged.length === 0 && !(await isThere(path))) continue;
        const there = await uidsIn(path);
        const lost = acknowledged.filter((uid) => !there.has(uid));
        expect(lost, `kill ${kill}`).toEqual([]);
        // A record that was being added may be there or not, and may come to light when the log is read anew.
        const more = there.size - acknowledged.length;
        expect(more, `kill ${kill}`).toBeLessThanOrEqual(killsHere);
        if (killsHere === 10) unheard += more;
      }
      for (let file = 1; file <= files; file++) {
        const one = join(folder.path, `killed-${file}.db`);
        if (!(await isThere(one))) continue;
        expect(await integrity(one)).toEqual({ check: [{ integrity_check: 'ok' }], keys: [] });
      }
      expect(all).toBeGreaterThan(KILLS);
      if (process.env.GANTRUE_KILLS !== undefined) {
        console.info(
          `${KILLS} kills, ${files} files: ${all} acknowledged, ${unheard} there without a word, 0 lost`,
        );
      }
    },
    60_000 + KILLS * 2_000,
  );

  it('takes the records of two writers at once, all of them', async () => {
    const path = join(folder.path, 'two.db');
    const writers = [startWriter(path, 100), startWriter(path, 100)];
    for (const { ended } of writers) expect(await ended).toBe('');
    const there = await uidsIn(path);
    const told = writers.flatMap(({ acknowledged }) => acknowledged);
    expect(told).toHaveLength(200);
    expect(there).toEqual(new Set(told));
  }, 60_000);

  it('on a disk that fills up keeps what was acknowledged and says that it cannot write', async () => {
    const path = join(folder.path, 'limited.db');
    // A limit of 400 KiB for any file stands in for the end of the disk; SIGXFSZ would end the process.
    const wrap = ['bash', '-c', 'trap "" XFSZ; ulimit -f 400; exec "$@"', 'limited'];
    const writer = startWriter(path, 10_000, { wrap });
    expect(await writer.ended).toMatch(/^HISTORY_UNWRITABLE /);
    expect(writer.acknowledged.length).toBeGreaterThan(20);
    expect(await uidsIn(path)).toEqual(new Set(writer.acknowledged));
    expect(await integrity(path)).toEqual({ check: [{ integrity_check: 'ok' }], keys: [] });
    const next = startWriter(path, 3);
    expect(await next.ended).toBe('');
  }, 60_000);

  it('on a full file system keeps what was acknowledged and says that the disk is full', async (context) => {
    const disk = join(folder.path, 'disk');
    await mkdir(disk);
    try {
      execFileSync('mount', ['-t', 'tmpfs', '-o', 'size=600k', 'tmpfs', disk], { stdio: 'pipe' });
    } catch {
      context.skip('no permission to mount a small file system');
    }
    try {
      const path = join(disk, 'full.db');
      const writer = startWriter(path, 10_000);
      expect(await writer.ended).toMatch(/^HISTORY_UNWRITABLE /);
      expect(writer.acknowledged.length).toBeGreaterThan(10);
      const copy = join(folder.path, 'full.db');
      await copyFile(path, copy);
      await copyFile(`${path}-wal`, `${copy}-wal`).catch(() => undefined);
      expect(await uidsIn(copy)).toEqual(new Set(writer.acknowledged));
      expect(await integrity(copy)).toEqual({ check: [{ integrity_check: 'ok' }], keys: [] });
    } finally {
      execFileSync('umount', [disk]);
    }
  }, 60_000);

  it.runIf(isRoot || process.platform === 'linux')(
    'that may only be read is listed, and refuses to be added to',
    async () => {
      const place = join(folder.path, 'read-only');
      await mkdir(place);
      const path = join(place, 'history.db');
      expect(await startWriter(path, 3).ended).toBe('');
      for (const name of await readdir(place)) {
        if (name !== 'history.db') await rm(join(place, name));
      }
      if (isRoot) await chown(path, 0, 0);
      await chmod(folder.path, 0o755);
      await chmod(path, 0o444);
      await chmod(place, 0o555);
      const before = createHash('sha256')
        .update(await readFile(path))
        .digest('hex');
      const [adding, reading] = isRoot
        ? [startWriter(path, 1, { uid: NOBODY }), reader(path, NOBODY)]
        : [startWriter(path, 1), reader(path)];
      expect(await adding.ended).toMatch(/^HISTORY_UNWRITABLE /);
      expect(reading).toBe('3\n');
      expect(
        createHash('sha256')
          .update(await readFile(path))
          .digest('hex'),
      ).toBe(before);
      await chmod(place, 0o755);
    },
    60_000,
  );
});

describe('the text of strangers', () => {
  it('does not reach the terminal raw, neither in lists nor in failures', async () => {
    const history = ['--history', join(folder.path, 'strange.db')];
    const evil = '\u001b]0;owned\u0007\u001b[2Jbelt\u202e\u009b31m tight';
    const add = await runGantrue(['log', 'event', evil, '--machine-name', evil, ...history]);
    expect(add.code).toBe(0);
    const runs = [
      add,
      await runGantrue(['log', 'list', ...history]),
      await runGantrue(['log', 'show', '1', ...history]),
      await runGantrue(['log', 'list', '--machine-name', 'else', ...history]),
      await runGantrue(['drift', '--machine-name', 'else', ...history]),
    ];
    for (const { stdout, stderr } of runs) {
      expect(stdout + stderr).toMatch(/belt/);
      expect(stdout + stderr).not.toMatch(/[\u0000-\u0009\u000b-\u001f\u007f-\u009f\u202a-\u202e]/);
    }
  }, 60_000);
});

function reader(path: string, uid?: number): string {
  const library = new URL('../../dist/src/index.js', import.meta.url).href;
  const script = `const { countEntries, withHistory } = await import(process.argv[1]);
const found = await withHistory(process.argv[2], 'read', (h) => ({ ok: true, value: countEntries(h) }));
console.log(found.ok ? found.value : found.failure.code);`;
  return execFileSync(process.execPath, ['--input-type=module', '-e', script, library, path], {
    encoding: 'utf8',
    ...(uid === undefined ? {} : { uid, gid: uid }),
  });
}

async function isThere(path: string): Promise<boolean> {
  // Not by opening it: closing would drop the locks of this process.
  return stat(path).then(
    () => true,
    () => false,
  );
}

/** Numerical Recipes' quick linear congruence, modulus 2^32. */
function uniformSource(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (Math.imul(1664525, state) + 1013904223) >>> 0;
    return state / 2 ** 32;
  };
}
