import { expect, test } from 'vitest';
import { decodeProgramText } from '../../../src/program/index.js';
import { unwrap } from '../../../src/quantity/index.js';

const TEXT = 'G21 (Größe)\r\nG0 X1\n';

function utf16(text: string, order: 'le' | 'be', mark: boolean): Uint8Array {
  const bytes = Buffer.from(`${mark ? '\ufeff' : ''}${text}`, 'utf16le');
  return order === 'le' ? bytes : bytes.swap16();
}

test('UTF-8 and UTF-16 are decoded, with and without byte order mark', () => {
  for (const bytes of [
    Buffer.from(TEXT),
    Buffer.from(`\ufeff${TEXT}`),
    utf16(TEXT, 'le', true),
    utf16(TEXT, 'be', true),
    utf16(TEXT, 'le', false),
    utf16(TEXT, 'be', false),
  ]) {
    expect(unwrap(decodeProgramText(bytes))).toBe(TEXT);
  }
});

test('text of an old code page is decoded', () => {
  expect(unwrap(decodeProgramText(Buffer.from(TEXT, 'latin1')))).toBe(TEXT);
});

test('an empty file is empty text', () => {
  expect(unwrap(decodeProgramText(new Uint8Array()))).toBe('');
});

test.each([
  ['a JPEG picture', [0xff, 0xd8, 0xff, 0xe0, 0, 16]],
  ['a PNG picture', [0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a]],
  ['no text', [71, 48, 0, 0, 1, 2, 3, 0, 0, 7]],
  ['no text', [71, 48, 1, 2, 3]],
])('data that is %s is refused', (what, bytes) => {
  const outcome = decodeProgramText(Uint8Array.from(bytes), 'a.bin');
  expect(outcome).toMatchObject({
    ok: false,
    failure: { code: 'PROGRAM_INVALID', where: 'a.bin' },
  });
  expect(!outcome.ok && outcome.failure.message).toContain(what);
});
