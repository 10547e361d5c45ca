/** The program in words of NISTIR 6556 alone: every move written out, so that any controller reads it. */

import type { GridPlan, PlannedHole, PlannedMark } from './grid-plan.js';
import { headerComments, spindleComments, writeNumber } from './program-header.js';

/** Takes up what springs back after the last move across; s. */
export const PAUSE_S = 0.3;
/** Until a spindle has come up to speed; s. */
export const SPIN_UP_S = 5;

/** @param name what the program is called in its first line. */
export function writeFlatProgram(plan: GridPlan, name: string): string {
  const writer = new FlatWriter(plan);
  writer.head(name);
  let kind: PlannedMark['kind'] | undefined;
  for (const mark of plan.marks) {
    if (mark.kind !== kind) writer.comment(KIND_COMMENTS[mark.kind]);
    kind = mark.kind;
    writer.mark(mark);
  }
  writer.endMarking();
  if (plan.holes.length > 0) writer.holes(plan.holes);
  writer.end();
  return writer.text();
}

/** The holes alone, as a program of its own: for a grid that stands already. */
export function writeHolesProgram(plan: GridPlan): string {
  const writer = new FlatWriter(plan);
  writer.headOfHoles();
  writer.cutHoles(plan.holes);
  writer.end();
  return writer.text();
}

export const KIND_COMMENTS: Record<PlannedMark['kind'], string> = {
  origin: 'origin mark: triangle at the origin, arrow along X, arrow with a bar along Y',
  centre: 'slanting cross at the centre',
  outline: 'outline of what can be reached',
  line: 'lines: two halves each, reached from opposite sides',
  rung: 'ladders of short strokes between the lines',
  code: 'cell codes: lower row the column, upper row the row, binary from the left',
  again: 'parts of the first lines, left out so far: what has crept meanwhile shows here',
};

class FlatWriter {
  readonly #plan: GridPlan;
  readonly #lines: string[] = [];
  /** Written before each line: the second stage is switched by block delete. */
  #prefix = '';
  #feed: string | undefined;

  constructor(plan: GridPlan) {
    this.#plan = plan;
  }

  text(): string {
    return `${this.#lines.join('\n')}\n`;
  }

  comment(text: string): void {
    this.#lines.push(`(${text})`);
  }

  head(name: string): void {
    const { choices, layout } = this.#plan;
    for (const text of headerComments(this.#plan, name)) this.comment(text);
    this.#line(`${choices.units === 'mm' ? 'G21' : 'G20'} G90 G17 G94`);
    if (choices.marking === 'laser') {
      this.#line('M3 S0');
    } else {
      this.#line(`G0 Z${this.#word(layout.clearance)}`);
      this.#line(`M3 S${choices.power}`);
      this.#line(`G4 P${SPIN_UP_S}`);
    }
  }

  mark(mark: PlannedMark): void {
    if (this.#plan.choices.marking === 'laser') this.#burn(mark);
    else this.#cut(mark);
  }

  endMarking(): void {
    const { choices, layout } = this.#plan;
    this.#line(choices.marking === 'laser' ? 'M5 S0' : 'M5');
    if (choices.marking === 'cutter') this.#line(`G0 Z${this.#word(layout.clearance)}`);
  }

  headOfHoles(): void {
    const { choices } = this.#plan;
    this.comment(
      'insert holes, in the coordinates of the grid: the second stage of its program alone',
    );
    for (const text of spindleComments()) this.comment(text);
    this.#line(`${choices.units === 'mm' ? 'G21' : 'G20'} G90 G17 G94`);
  }

  /** The second stage. Its first line stops the machine: the tool must be changed. */
  holes(holes: readonly PlannedHole[]): void {
    this.#line('M1');
    this.comment('optional stop: photograph the marks before anything is cut');
    this.comment('insert holes: every line from here on is left out while block delete is on');
    this.#prefix = '/';
    this.cutHoles(holes);
    this.#prefix = '';
  }

  cutHoles(holes: readonly PlannedHole[]): void {
    const { choices, layout } = this.#plan;
    this.#line('M0');
    this.comment('stop: laser off and out of its mode, fit the end mill, zero Z on the board');
    this.#line(`G0 Z${this.#word(layout.clearance)}`);
    this.#line(`M3 S${choices.inserts!.spindleSpeed}`);
    this.#line(`G4 P${SPIN_UP_S}`);
    for (const hole of holes) this.#hole(hole);
    this.#line('M5');
  }

  end(): void {
    this.#line('G0 X0 Y0');
    this.#line('M2');
  }

  #burn(mark: PlannedMark): void {
    const { layout, choices } = this.#plan;
    const { along, before } = this.#approach(mark);
    const run = mark.kind === 'outline' ? 0 : layout.run;
    const [dx, dy] = along;
    const ready = [mark.from[0] - run * dx, mark.from[1] - run * dy] as const;
    this.#line(`G0 ${this.#place([ready[0] - before[0], ready[1] - before[1]])}`);
    if (before[0] !== 0) this.#feedTo(`X${this.#word(ready[0])} S0`, layout.feed);
    if (before[1] !== 0) this.#feedTo(`Y${this.#word(ready[1])} S0`, layout.feed);
    this.#line(`G4 P${PAUSE_S}`);
    if (run > 0) this.#feedTo(`${this.#place(mark.from)} S0`, layout.feed);
    this.#feedTo(`${this.#place(mark.to)} S${choices.power}`, layout.feed);
    if (run > 0) {
      this.#feedTo(
        `${this.#place([mark.to[0] + run * dx, mark.to[1] + run * dy])} S0`,
        layout.feed,
      );
    }
  }

  #cut(mark: PlannedMark): void {
    const { layout } = this.#plan;
    const { before } = this.#approach(mark);
    this.#line(`G0 ${this.#place([mark.from[0] - before[0], mark.from[1] - before[1]])}`);
    if (before[0] !== 0) this.#feedTo(`X${this.#word(mark.from[0])}`, layout.feed);
    if (before[1] !== 0) this.#feedTo(`Y${this.#word(mark.from[1])}`, layout.feed);
    this.#line(`G4 P${PAUSE_S}`);
    this.#feedTo(`Z${this.#word(-layout.depth)}`, layout.plungeFeed);
    this.#feedTo(this.#place(mark.to), layout.feed);
    this.#line(`G0 Z${this.#word(layout.clearance)}`);
  }

  /** Sense along the mark, and the run across it: a mark along an axis is reached by a move of the other. */
  #approach({ from, to, sense }: PlannedMark): {
    along: readonly [number, number];
    before: readonly [number, number];
  } {
    const run = this.#plan.layout.run;
    const along = [Math.sign(to[0] - from[0]), Math.sign(to[1] - from[1])] as const;
    return {
      along,
      before: [along[0] === 0 ? run * sense : 0, along[1] === 0 ? run * sense : 0],
    };
  }

  #hole({ centre, rings }: PlannedHole): void {
    const { layout, choices } = this.#plan;
    const feed = choices.inserts!.feedMmPerMin / layout.mmPerUnit;
    const clear = `G0 Z${this.#word(layout.clearance)}`;
    for (const { radius, fromDepth, toDepth, turns } of rings) {
      const rim = this.#place([centre[0] + radius, centre[1]]);
      const depthOf = (turn: number) =>
        this.#word(-(fromDepth + ((toDepth - fromDepth) * turn) / turns));
      this.#line(`G0 ${rim}`);
      if (radius === 0) {
        for (let turn = 1; turn <= turns; turn += 1) {
          this.#feedTo(`Z${depthOf(turn)}`, layout.plungeFeed);
          this.#line(clear);
        }
        continue;
      }
      this.#feedTo(`Z${this.#word(-fromDepth)}`, layout.plungeFeed);
      const circle = `G3 ${rim} I${this.#word(-radius)} J0`;
      for (let turn = 1; turn <= turns; turn += 1) {
        this.#withFeed(`${circle} Z${depthOf(turn)}`, feed);
      }
      // Once more at full depth: the helix leaves a ramp.
      this.#line(circle);
      this.#line(clear);
    }
  }

  #place([x, y]: readonly [number, number]): string {
    return `X${this.#word(x)} Y${this.#word(y)}`;
  }

  #word(value: number): string {
    return writeNumber(value, this.#plan.layout.decimals);
  }

  #feedTo(words: string, feed: number): void {
    this.#withFeed(`G1 ${words}`, feed);
  }

  #withFeed(words: string, feed: number): void {
    const text = writeNumber(feed, 1);
    this.#line(text === this.#feed ? words : `${words} F${text}`);
    this.#feed = text;
  }

  #line(words: string): void {
    this.#lines.push(this.#prefix + words);
  }
}
