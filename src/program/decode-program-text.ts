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

export type ProgramEncoding = 'utf-8' | 'utf-16le' | 'utf-16be' | 'windows-1252';

/** How a program's bytes become text; undefined where they are none. */
export function programEncoding(
  bytes: Uint8Array,
): { readonly encoding: ProgramEncoding; readonly hasMark: boolean } | undefined {
  const encoding = findEncoding(bytes);
  if (encoding === undefined) return undefined;
  const marks = { 'utf-8': [0xef, 0xbb, 0xbf], 'utf-16le': [0xff, 0xfe], 'utf-16be': [0xfe, 0xff] };
  const mark = encoding === 'windows-1252' ? undefined : marks[encoding];
  return { encoding, hasMark: mark?.every((byte, at) => bytes[at] === byte) ?? false };
}

/** The way back: the bytes that decode to the text, a byte order mark in front where there was one. */
export function encodeProgramText(
  text: string,
  { encoding, hasMark }: { readonly encoding: ProgramEncoding; readonly hasMark: boolean },
): Uint8Array {
  const marked = hasMark ? `\ufeff${text}` : text;
  if (encoding === 'utf-8') return new TextEncoder().encode(marked);
  if (encoding === 'windows-1252') return encodeSingleBytes(marked);
  const bytes = new Uint8Array(2 * marked.length);
  const view = new DataView(bytes.buffer);
  for (let at = 0; at < marked.length; at += 1) {
    view.setUint16(2 * at, marked.charCodeAt(at), encoding === 'utf-16le');
  }
  return bytes;
}

function encodeSingleBytes(text: string): Uint8Array {
  const every = Uint8Array.from({ length: 256 }, (_, byte) => byte);
  const meanings = [...new TextDecoder('windows-1252').decode(every)];
  const byteOf = new Map(meanings.map((character, byte) => [character, byte]));
  return Uint8Array.from([...text], (character) => {
    const byte = byteOf.get(character);
    if (byte === undefined) throw new Error(`${character} is not of this encoding`);
    return byte;
  });
}

function findEncoding(bytes: Uint8Array): ProgramEncoding | undefined {
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
