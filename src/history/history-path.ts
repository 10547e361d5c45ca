/** Where the history lies when nobody names another place. */

import { homedir } from 'node:os';
import { join } from 'node:path';

type Environment = Readonly<Record<string, string | undefined>>;

/**
 * The file named, else the one in the variable GANTRUE_HISTORY, else `gantrue/history.db` in the user's folder for
 * data: `%LOCALAPPDATA%` on Windows, `~/Library/Application Support` on macOS, elsewhere `$XDG_DATA_HOME` or
 * `~/.local/share` (XDG Base Directory Specification 0.8).
 */
export function historyPath(
  named: string | undefined,
  env: Environment,
  platform: NodeJS.Platform = process.platform,
): string {
  const stated = named ?? nonEmpty(env.GANTRUE_HISTORY);
  return stated ?? join(dataFolder(env, platform), 'gantrue', 'history.db');
}

function dataFolder(env: Environment, platform: NodeJS.Platform): string {
  const home = nonEmpty(env.HOME) ?? nonEmpty(env.USERPROFILE) ?? homedir();
  if (platform === 'win32') return nonEmpty(env.LOCALAPPDATA) ?? join(home, 'AppData', 'Local');
  if (platform === 'darwin') return join(home, 'Library', 'Application Support');
  const stated = nonEmpty(env.XDG_DATA_HOME);
  // The specification passes over relative ones.
  return stated?.startsWith('/') ? stated : join(home, '.local', 'share');
}

function nonEmpty(text: string | undefined): string | undefined {
  return text === '' ? undefined : text;
}
