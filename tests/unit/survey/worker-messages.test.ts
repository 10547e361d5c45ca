import { describe, expect, it } from 'vitest';
import { Failure, failed } from '../../../src/quantity/index.js';
import { packFate, unpackFate } from '../../../src/survey/worker-messages.js';

describe('a fate that goes from thread to thread', () => {
  it('keeps its failure, the class and all figures', () => {
    const outcome = failed('GRID_NOT_FOUND', 'no grid', {
      where: 'a.jpg',
      hint: 'clear the board',
      figures: { lines: 3 },
      cause: new Error('why'),
    });
    const fate = unpackFate(structuredClone(packFate({ path: 'a.jpg', sha256: 'ab', outcome })));
    expect(fate.path).toBe('a.jpg');
    expect(fate.sha256).toBe('ab');
    if (fate.outcome.ok) throw new Error('a failure arrived as a success');
    const { failure } = fate.outcome;
    expect(failure).toBeInstanceOf(Failure);
    expect([failure.code, failure.message, failure.where, failure.hint]).toEqual([
      'GRID_NOT_FOUND',
      'no grid',
      'a.jpg',
      'clear the board',
    ]);
    expect(failure.figures).toEqual({ lines: 3 });
    expect(failure.cause).toBe('Error: why');
  });

  it('has no hint, place or cause where there was none', () => {
    const outcome = failed('PHOTO_BLURRED', 'blurred');
    const fate = unpackFate(structuredClone(packFate({ path: 'a.jpg', outcome })));
    if (fate.outcome.ok) throw new Error('a failure arrived as a success');
    const { where, hint, cause } = fate.outcome.failure;
    expect([where, hint, cause]).toEqual([undefined, undefined, undefined]);
  });
});
