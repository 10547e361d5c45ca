/** A plain grid whose program is lost, from its count of lines and its pitch. */

import type { Stroke } from '../../shared/stroke.js';
import { failed, type Outcome, success } from '../quantity/index.js';

/** More lines than any bed carries: a slip of the keyboard must not fill the memory. */
const MOST_LINES = 1000;
const FEWEST_LINES = 3;

/**
 * Strokes of a plain grid: NX lines at constant X, then NY lines at constant Y, the first ones
 * through the origin, each in one stroke from its low end. Nothing is known of approach.
 *
 * @param text `NXxNY,PITCHX,PITCHY`, pitches in mm, such as `19x13,50,50`.
 * Fails: WRONG_CALL.
 */
export function latticeProgram(text: string): Outcome<readonly Stroke[]> {
  const number = String.raw`(\d+(?:\.\d*)?|\.\d+)`;
  const match = new RegExp(
    String.raw`^\s*(\d+)\s*[x×]\s*(\d+)\s*,\s*${number}\s*,\s*${number}\s*$`,
    'i',
  ).exec(text);
  if (match === null) return refuse(text, 'this is no grid');
  const [countX, countY, pitchX, pitchY] = match.slice(1).map(Number) as [
    number,
    number,
    number,
    number,
  ];
  for (const count of [countX, countY]) {
    if (count < FEWEST_LINES || count > MOST_LINES) {
      return refuse(text, `a grid has ${FEWEST_LINES} to ${MOST_LINES} lines each way`);
    }
  }
  if (pitchX <= 0 || pitchY <= 0) return refuse(text, 'a pitch must be above 0 mm');

  const strokes: Stroke[] = [];
  const mark = (fromMm: Stroke['fromMm'], toMm: Stroke['toMm']) => {
    strokes.push({ id: strokes.length, fromMm, toMm, approachX: 0, approachY: 0, sourceLine: 1 });
  };
  const width = (countX - 1) * pitchX;
  const height = (countY - 1) * pitchY;
  for (let i = 0; i < countX; i += 1) mark([i * pitchX, 0], [i * pitchX, height]);
  for (let j = 0; j < countY; j += 1) mark([0, j * pitchY], [width, j * pitchY]);
  return success(strokes);
}

function refuse(text: string, message: string): Outcome<readonly Stroke[]> {
  return failed('WRONG_CALL', `${message}: ${text}`, {
    hint: 'write lines along both axes and pitches in mm, such as 19x13,50,50',
  });
}
