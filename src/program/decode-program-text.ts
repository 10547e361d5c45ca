/** Bytes of a program file → text, whatever encoding an editor left it in. */

import { failed, type Outcome, success } from '../quantity/index.js';

/** Beginnings of files that are sometimes given instead of a program. */
const OTHER_FILES: readonly { readonly start: readonly number[]; readonly what: string }[] = [
  { start: [0xff, 0xd8, 0xff], what: 'a JPEG picture' },
  { start: [0x89, 0x50, 0x4e, 0x47], what: 'a PNG picture' },
  { start: [0x25, 0x50, 0x44, 0x46], what: 'a PDF document' },
  { start: [0x50, 0x4b, 0x03, 0x04], what: 'a ZIP archive' },
];

/** How much of the file is looked at to tell text from other data. */
const LOOKED_AT_BYTES = 65_536;

/**
 * Decodes UTF-8 and UTF-16 (with or without byte order mark), else Windows-1252, in which every
 * byte has a meaning: an umlaut in a comment must not make a program unreadable.
 *
 * Fails: PROGRAM_INVALID where the bytes are no text.
 */
export function decodeProgramText(bytes: Uint8Array, name = 'program'): Outcome<string> {
  const other = OTHER_FILES.find(({ start }) => start.every((byte, at) => bytes[at] === byte));
  if (other !== undefined) return refuse(name, `the file is ${other.what}, not a program`);

  const encoding = findEncoding(bytes);
  if (encoding === undefined) return refuse(name, 'the file is no text');
  const text = new TextDecoder(encoding).decode(bytes);
  return hasControlCharacters(text) ? refuse(name, 'the file is no text') : success(text);
}

function refuse(name: string, message: string): Outcome<string> {
  return failed('PROGRAM_INVALID', message, {
    where: name,
    hint: 'give the RS-274/NGC text that was sent to the machine; photos are named without an option',
  });
}

function findEncoding(bytes: Uint8Array): string | undefined {
  if (bytes[0] === 0xff && bytes[1] === 0xfe) return 'utf-16le';
  if (bytes[0] === 0xfe && bytes[1] === 0xff) return 'utf-16be';
  const zeros = [0, 0];
  const looked = Math.min(bytes.length, LOOKED_AT_BYTES);
  for (let at = 0; at < looked; at += 1) if (bytes[at] === 0) zeros[at % 2]! += 1;
  // Program text in UTF-16 has a zero in every character, always on the same side.
  if (zeros[1]! > looked / 4 && zeros[0] === 0) return 'utf-16le';
  if (zeros[0]! > looked / 4 && zeros[1] === 0) return 'utf-16be';
  if (zeros[0]! + zeros[1]! > 0) return undefined;
  return isUtf8(bytes) ? 'utf-8' : 'windows-1252';
}

function isUtf8(bytes: Uint8Array): boolean {
  try {
    new TextDecoder('utf-8', { fatal: true }).decode(bytes);
    return true;
  } catch {
    return false;
  }
}

/** Control characters other than tab, line ends, form feed and end-of-file of old systems. */
function hasControlCharacters(text: string): boolean {
  return /[\u0000-\u0008\u000b\u000e-\u0019\u001b-\u001f]/.test(text.slice(0, LOOKED_AT_BYTES));
}
