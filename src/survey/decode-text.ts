/** Bytes of a table or a YAML file → text, in whatever encoding an editor or a spreadsheet saved it. */

import { programEncoding } from '../program/index.js';

/** UTF-8, UTF-16, else Windows-1252, as for programs; without byte order mark. Undefined where it is no text. */
export function decodeText(bytes: Uint8Array): string | undefined {
  const found = programEncoding(bytes);
  return found === undefined ? undefined : new TextDecoder(found.encoding).decode(bytes);
}
