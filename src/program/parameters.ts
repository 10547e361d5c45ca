/** The parameters of a program while it runs: numbered, named, and those of the running subprogram. */

/** NISTIR 6556, section 3.3.2.2. */
export const HIGHEST_PARAMETER = 5399;

/** From here on parameters hold what only the machine knows (NISTIR 6556, table 2: probe results). */
const FIRST_MACHINE_READ = 5061;
/** From here on a setting moves coordinates (NISTIR 6556, table 2: home positions and offsets). */
const FIRST_MACHINE_SET = 5161;

/** #1 to #30 belong to the subprogram and take its arguments (common practice, no source). */
export const LOCAL_COUNT = 30;

interface Scope {
  readonly locals: (number | undefined)[];
  readonly named: Map<string, number>;
}

/** One instance for each run of a program. */
export class Parameters {
  readonly #numbered = new Map<number, number>();
  readonly #global = new Map<string, number>([
    ['_value', 0],
    ['_value_returned', 0],
  ]);
  readonly #outer: Scope[] = [];
  #scope: Scope = { locals: [], named: new Map() };

  /** Undefined where the program has not set it: what the machine then holds is unknown. */
  numbered(index: number): number | undefined {
    return index <= LOCAL_COUNT ? this.#scope.locals[index] : this.#numbered.get(index);
  }

  setNumbered(index: number, value: number): void {
    if (index <= LOCAL_COUNT) this.#scope.locals[index] = value;
    else this.#numbered.set(index, value);
  }

  /** Names that begin with _ are known everywhere, others in their subprogram. */
  named(name: string): number | undefined {
    return this.#home(name).get(name);
  }

  setNamed(name: string, value: number): void {
    this.#home(name).set(name, value);
  }

  /** Opens the scope of a subprogram; arguments that are not given are 0. */
  enter(values: readonly number[]): void {
    this.#outer.push(this.#scope);
    const locals = [undefined, ...values, ...Array(LOCAL_COUNT - values.length).fill(0)];
    this.#scope = { locals, named: new Map() };
  }

  /** Closes the scope that was opened last. */
  leave(): void {
    const outer = this.#outer.pop();
    if (outer === undefined) throw new Error('no scope was entered');
    this.#scope = outer;
  }

  /** What is to be told of a subprogram's end. */
  setReturned(value: number | undefined): void {
    this.#global.set('_value', value ?? 0);
    this.#global.set('_value_returned', value === undefined ? 0 : 1);
  }

  #home(name: string): Map<string, number> {
    return name.startsWith('_') ? this.#global : this.#scope.named;
  }
}

export function belongsToMachine(index: number, use: 'read' | 'set'): boolean {
  return index >= (use === 'read' ? FIRST_MACHINE_READ : FIRST_MACHINE_SET);
}
