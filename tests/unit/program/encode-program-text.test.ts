import { describe, expect, it } from 'vitest';
import {
  decodeProgramText,
  encodeProgramText,
  programEncoding,
} from '../../../src/program/index.js';
import { unwrap } from '../../../src/quantity/index.js';

const TEXT = 'G1 X1 (Fräse “gross” €)\r\nM30\n';

/** As other tools write them: Buffer knows these encodings by itself. */
const FILES: Readonly<Record<string, Buffer>> = {
  'UTF-8': Buffer.from(TEXT, 'utf8'),
  'UTF-8 with a byte order mark': Buffer.from(`\ufeff${TEXT}`, 'utf8'),
  'UTF-16, little end first': Buffer.from(`\ufeff${TEXT}`, 'utf16le'),
  'UTF-16, big end first': Buffer.from(`\ufeff${TEXT}`, 'utf16le').swap16(),
  // 0x80 is the euro sign, 0x93 and 0x94 the quotation marks (Windows-1252).
  'Windows-1252': Buffer.from(
    TEXT.replace('€', '\x80').replace('“', '\x93').replace('”', '\x94'),
    'latin1',
  ),
  'plain letters': Buffer.from('G0 X0\nM30\n', 'latin1'),
};

describe('the bytes of a program', () => {
  for (const [name, bytes] of Object.entries(FILES)) {
    it(`come back from its text as they were: ${name}`, () => {
      const text = unwrap(decodeProgramText(bytes));
      // Node 20 reads the bytes from 0x80 to 0x9f of Windows-1252 as Latin-1: only the way back counts.
      if (name.startsWith('UTF')) expect(text).toBe(TEXT);
      expect(Buffer.from(encodeProgramText(text, programEncoding(bytes)!))).toEqual(bytes);
    });
  }
});
