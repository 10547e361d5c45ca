import { expect, it } from 'vitest';
import { addHeader } from '../../../src/compensation/header.js';

it('the name of a machine cannot end the comment that it stands in, and so command the machine', () => {
  const names = [
    'x)\nM3 S24000\nG0 Z-50 (',
    'x\u2028G0 Z-50',
    'x\uff09 M3 \uff08',
    'x;\rM3',
    '%\nO1 call',
  ];
  for (const machine of names) {
    const text = addHeader('G21 G90\nG0 X1\nM2\n', {
      ...{ seenOn: '2026-11-20', machine, measurementSha256: '0'.repeat(64) },
      ...{ toleranceMm: 0.02, zeroMm: [0, 0], used: [] },
    });
    const lines = text.split(/[\n\r\u2028\u2029]/);
    expect(lines.slice(-4)).toEqual(['G21 G90', 'G0 X1', 'M2', '']);
    // Brackets at both ends and none between; printable ASCII alone.
    for (const line of lines.slice(0, -4)) expect(line).toMatch(/^\([\x20-\x27\x2a-\x7e]*\)$/);
  }
});
