/** A program of loops, branches and subprograms marks what the same program marks when written out. */

import fc from 'fast-check';
import { expect, test } from 'vitest';
import { readProgram } from '../../src/program/index.js';
import { unwrap } from '../../src/quantity/index.js';

const RUNS = { seed: 20_261, numRuns: 300 } as const;

type Step =
  | { readonly kind: 'dash'; readonly row: number }
  | { readonly kind: 'repeat' | 'while' | 'do'; readonly times: number; readonly body: Step[] }
  | { readonly kind: 'break' | 'continue'; readonly body: Step[] }
  | { readonly kind: 'if'; readonly choice: number; readonly branches: Step[][] }
  | { readonly kind: 'call' | 'M98'; readonly body: Step[] };

const { steps } = fc.letrec<{ step: Step; steps: Step[] }>((tie) => ({
  steps: fc.array(tie('step'), { maxLength: 3, depthIdentifier: 'steps' }),
  step: fc.oneof(
    { maxDepth: 4, depthIdentifier: 'steps' },
    fc.record({ kind: fc.constant('dash' as const), row: fc.nat(99) }),
    fc.record({
      kind: fc.constantFrom('repeat' as const, 'while' as const, 'do' as const),
      times: fc.integer({ min: 1, max: 3 }),
      body: tie('steps'),
    }),
    fc.record({
      kind: fc.constantFrom('break' as const, 'continue' as const),
      body: tie('steps'),
    }),
    fc.record({
      kind: fc.constant('if' as const),
      choice: fc.nat(3),
      branches: fc.array(tie('steps'), { minLength: 1, maxLength: 3 }),
    }),
    fc.record({
      kind: fc.constantFrom('call' as const, 'M98' as const),
      body: tie('steps'),
    }),
  ),
}));

/** The way back between two dashes keeps them from becoming one stroke. */
function dash(row: number): string[] {
  return [`G0 X0 Y${row}`, 'G1 X1'];
}

function writtenOut(list: readonly Step[]): string[] {
  return list.flatMap(writtenOutStep);
}

function writtenOutStep(step: Step): string[] {
  switch (step.kind) {
    case 'dash':
      return dash(step.row);
    case 'repeat':
    case 'while':
    case 'do':
      return Array.from({ length: step.times }, () => writtenOut(step.body)).flat();
    case 'break':
      return writtenOut(step.body);
    case 'continue':
      return [...writtenOut(step.body), ...writtenOut(step.body)];
    case 'if':
      return writtenOut(step.branches[step.choice] ?? []);
    case 'call':
    case 'M98':
      return writtenOut(step.body);
  }
}

/** Spells steps with O words; labels and counters are numbered, subprograms gathered behind M2. */
class Speller {
  #labels = 0;
  readonly subprograms: string[] = [];

  spell(list: readonly Step[]): string[] {
    return list.flatMap((step) => this.#one(step));
  }

  #one(step: Step): string[] {
    if (step.kind === 'dash') return dash(step.row);
    this.#labels += 1;
    const label = this.#labels % 2 === 0 ? `o<n${this.#labels}>` : `O${this.#labels}`;
    const counter = `#<_c${this.#labels}>`;
    const count = `${counter}=[${counter}+1]`;
    switch (step.kind) {
      case 'repeat':
        return [`${label} repeat [${step.times}]`, ...this.spell(step.body), `${label} endrepeat`];
      case 'while':
        return [
          `${counter}=0`,
          `${label} while [${counter} LT ${step.times}]`,
          count,
          ...this.spell(step.body),
          `${label} endwhile`,
        ];
      case 'do':
        return [
          `${counter}=0`,
          `${label} do`,
          count,
          ...this.spell(step.body),
          `${label} while [${counter} LT ${step.times}]`,
        ];
      case 'break':
        return [
          `${label} while [1]`,
          ...this.spell(step.body),
          `${label} break`,
          'G1 X[1/0]',
          `${label} endwhile`,
        ];
      case 'continue':
        return [
          `${label} repeat [2]`,
          ...this.spell(step.body),
          `${label} continue`,
          'G1 X[1/0]',
          `${label} endrepeat`,
        ];
      case 'if':
        return [
          ...step.branches.flatMap((branch, index) => [
            index === 0
              ? `${label} if [${step.choice} EQ 0]`
              : `${label} elseif [${step.choice} EQ ${index}]`,
            ...this.spell(branch),
          ]),
          `${label} endif`,
        ];
      case 'call':
        this.#keep([`${label} sub`, ...this.spell(step.body), `${label} endsub`]);
        return [`${label} call`];
      case 'M98': {
        const number = 1000 + this.#labels;
        this.#keep([`O${number}`, ...this.spell(step.body), 'M99']);
        return [`M98 P${number}`];
      }
    }
  }

  /** Its own subprograms were kept before it, so that none stands inside another. */
  #keep(lines: readonly string[]): void {
    this.subprograms.push(...lines);
  }
}

function marksOf(lines: readonly string[]): unknown {
  const text = ['G21 G90 M3 S1 F100', 'G0 X0 Y0', ...lines].join('\n');
  const options = { name: 'grid.ngc', marking: 'laser', blockDelete: false } as const;
  return unwrap(readProgram(text, options)).strokes.map(({ sourceLine: _, ...stroke }) => stroke);
}

test('loops, branches and subprograms mark what the program marks when written out', () => {
  fc.assert(
    fc.property(steps, (list) => {
      const speller = new Speller();
      const spelled = [...dash(50), ...speller.spell(list), 'M2'];
      const plain = [...dash(50), ...writtenOut(list), 'M2'];
      expect(marksOf([...spelled, ...speller.subprograms])).toEqual(marksOf(plain));
    }),
    RUNS,
  );
});
