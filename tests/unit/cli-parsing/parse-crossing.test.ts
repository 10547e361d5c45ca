import { describe, expect, it } from 'vitest';
import { parseCrossings } from '../../../cli/parse-crossing.js';

const photos = ['set/p1.jpg', 'set/a photo, turned.jpg'];

describe('--crossing', () => {
  it('names a photo, a pixel and a commanded crossing', () => {
    const parsed = parseCrossings(['p1.jpg 1520,880.5 300,-200'], 'mm', photos);
    expect(parsed).toEqual({
      ok: true,
      value: [{ photo: 'p1.jpg', columnPx: 1520, rowPx: 880.5, xMm: 300, yMm: -200 }],
    });
  });

  it('takes names with spaces and commas, and inches', () => {
    const parsed = parseCrossings(['a photo, turned.jpg 10,20 1,2'], 'in', photos);
    if (!parsed.ok) throw parsed.failure;
    expect(parsed.value[0]).toMatchObject({ photo: 'a photo, turned.jpg', xMm: 25.4, yMm: 50.8 });
  });

  it.each([
    ['p1.jpg 1520 300,200', 'expected PHOTO COLUMN,ROW X,Y'],
    ['1520,880 300,200', 'expected PHOTO COLUMN,ROW X,Y'],
    ['p9.jpg 1520,880 300,200', 'no photo "p9.jpg" is given'],
  ])('%s is refused', (text, message) => {
    const parsed = parseCrossings([text], 'mm', photos);
    if (parsed.ok) throw new Error('accepted');
    expect(parsed.failure.code).toBe('WRONG_CALL');
    expect(parsed.failure.message).toContain(message);
  });
});
