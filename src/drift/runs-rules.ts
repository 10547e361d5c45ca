/** Patterns on a chart that chance seldom makes. */

export const RUNS_RULES = {
  beyond: 'a value beyond three sigma',
  'two of three': 'two of three values beyond two sigma on one side',
  'four of five': 'four of five values beyond one sigma on one side',
  'one side': 'nine values in a row on one side',
  steadily: 'six values in a row steadily rising or falling',
} as const;

export type RunsRule = keyof typeof RUNS_RULES;

export interface RunsSignal {
  readonly rule: RunsRule;
  /** Index of the value with which the pattern is complete. */
  readonly at: number;
}

/**
 * @param deviations from the centre, in sigmas, in the order of time.
 * @returns each pattern where it is complete, by the order of time.
 * Source: Nelson, The Shewhart control chart: tests for special causes (1984), tests 1, 2, 3, 5 and 6; the first,
 * fifth and sixth are those of the Western Electric handbook (1956). The remaining ones find fault with scatter that
 * is too even, which is no drift.
 */
export function runsSignals(deviations: readonly number[]): RunsSignal[] {
  return deviations.flatMap((_, at) => {
    const rules: RunsRule[] = [];
    const last = (count: number) => deviations.slice(Math.max(0, at + 1 - count), at + 1);
    const onOneSide = (count: number, needed: number, sigmas: number) => {
      const now = deviations[at]!;
      // Else the pattern was complete before, and this value adds nothing to it.
      if (Math.abs(now) <= sigmas) return false;
      const beyond = last(count).filter((one) => one * Math.sign(now) > sigmas);
      return beyond.length >= needed;
    };
    if (Math.abs(deviations[at]!) > 3) rules.push('beyond');
    if (onOneSide(3, 2, 2)) rules.push('two of three');
    if (onOneSide(5, 4, 1)) rules.push('four of five');
    if (at >= 8 && onOneSide(9, 9, 0)) rules.push('one side');
    if (at >= 5 && isMonotonous(last(6))) rules.push('steadily');
    return rules.map((rule) => ({ rule, at }));
  });
}

function isMonotonous(values: readonly number[]): boolean {
  const steps = values.slice(1).map((value, i) => Math.sign(value - values[i]!));
  return steps[0] !== 0 && steps.every((step) => step === steps[0]);
}
