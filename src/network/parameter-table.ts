/** The unknowns of the adjustment: one flat vector with names, priors and the role of each. */

export type ParameterRole =
  | 'machine'
  | 'sharedCamera'
  | 'distortion'
  | 'wander'
  | 'pose'
  | 'warp'
  | 'placement'
  | 'board'
  | 'evidence';

export interface Parameter {
  readonly name: string;
  readonly role: ParameterRole;
  readonly priorMean: number;
  /** Standard deviation of the prior; infinity: none. Some are estimated. */
  priorSigma: number;
  /** The same as believed before anything was estimated. */
  readonly believedSigma: number;
}

export class ParameterTable {
  readonly list: Parameter[] = [];

  /** Adds a parameter and returns its index. */
  add(name: string, role: ParameterRole, priorMean: number, priorSigma: number): number {
    this.list.push({ name, role, priorMean, priorSigma, believedSigma: priorSigma });
    return this.list.length - 1;
  }

  get size(): number {
    return this.list.length;
  }

  /** The prior means, as a start. */
  initialValues(): Float64Array {
    return Float64Array.from(this.list, (p) => p.priorMean);
  }
}
