/** What the reader of a program passed over or had to assume, gathered by kind, told once each. */

import type { Finding } from '../quantity/index.js';

interface NoteText {
  readonly message: string;
  readonly hint?: string;
}

/** `…` in a message stands for the lines. */
const NOTE_TEXTS = {
  PROGRAM_WORDS_PASSED_OVER: {
    message: 'words without a meaning here were passed over: …',
    hint: 'see that none of them moves X or Y',
  },
  PROGRAM_ARCS_PASSED_OVER: {
    message: 'marked arcs are not used: …',
    hint: 'only straight marks and holes are measured',
  },
  PROGRAM_HOLES_PASSED_OVER: {
    message: 'holes that cannot be placed are not used: …',
    hint: 'drill along Z from a known place, in the coordinates of the other marks',
  },
  PROGRAM_COMPENSATED_PASSED_OVER: {
    message: 'marks made with cutter compensation in force (G41, G42) are not used: …',
    hint: 'let the generator write the path of the tool itself, without compensation',
  },
  PROGRAM_MOVES_UNRELATED: {
    message:
      'moves in coordinates whose relation to the marks is unknown do not count for the envelope: …',
  },
  PROGRAM_REFERENCE_MOVES: {
    message: 'moves to machine positions, after which the work position is unknown: …',
    hint: 'the first move of each axis behind them tells no approach direction',
  },
  PROGRAM_MARKS_UNPLACED: {
    message: 'marks that start at an unknown position are not used: …',
    hint: 'move to the start of the mark with X and Y first',
  },
  PROGRAM_RAPID_BELOW_SURFACE: {
    message: 'rapid moves below the surface are taken as travel, though they may leave marks: …',
    hint: 'lift to Z above 0 before G0',
  },
  PROGRAM_START_ASSUMED: {
    message: 'incremental moves from an unknown position were counted from X0 Y0: …',
  },
  PROGRAM_UNITS_UNSTATED: {
    message: 'no G20 or G21 before the first move: lengths were read as mm: …',
    hint: 'write G21 (mm) or G20 (inch) at the start of the program',
  },
  PROGRAM_LINES_SKIPPED: {
    message: 'lines that start with / were skipped, as block delete is on: …',
  },
} as const satisfies Record<string, NoteText>;

export type NoteCode = keyof typeof NOTE_TEXTS;

/** Lines by kind of note, each with what stood there. */
export class Notes {
  readonly #lines: Map<NoteCode, Map<number, string>>;

  constructor(lines = new Map<NoteCode, Map<number, string>>()) {
    this.#lines = lines;
  }

  /** @param what the words concerned, such as `G64`; without a comma. */
  add(code: NoteCode, line: number, what = ''): void {
    const lines = this.#lines.get(code) ?? new Map<number, string>();
    const before = lines.get(line) ?? '';
    lines.set(line, before);
    this.#lines.set(code, lines);
    // A line in a loop tells the same again and again, or something else each time.
    if (before.length > MOST_WORDS_LENGTH || before.split(', ').includes(what)) return;
    lines.set(line, before === '' ? what : `${before}, ${what}`);
  }

  /** The lines of each kind, in order of first appearance. */
  entries(): Iterable<[NoteCode, ReadonlyMap<number, string>]> {
    return this.#lines;
  }

  /** One finding a kind, in order of first appearance. */
  findings(name: string): Finding[] {
    return [...this.#lines].map(([code, lines]) => {
      const text: NoteText = NOTE_TEXTS[code];
      return {
        code,
        message: text.message.replace('…', listLines(lines)),
        where: name,
        ...(text.hint === undefined ? {} : { hint: text.hint }),
      };
    });
  }
}

/** The notes of two passes over one program, lines in their order where both tell of one kind. */
export function joinNotes(one: Notes, other: Notes): Notes {
  const lines = new Map<NoteCode, Map<number, string>>();
  for (const [code, found] of [...one.entries(), ...other.entries()]) {
    const before = lines.get(code);
    if (before === undefined) lines.set(code, new Map(found));
    else lines.set(code, new Map([...before, ...found].sort(([a], [b]) => a - b)));
  }
  return new Notes(lines);
}

/** Characters of words that are gathered for one line. */
const MOST_WORDS_LENGTH = 80;

/** Enough to find the place; a generator repeats the same thing on thousands of lines. */
const MOST_LISTED_LINES = 8;

function listLines(lines: ReadonlyMap<number, string>): string {
  const listed = [...lines].slice(0, MOST_LISTED_LINES);
  const texts = listed.map(([line, what]) => (what === '' ? `${line}` : `${line} (${what})`));
  const more = lines.size - listed.length;
  return `${lines.size === 1 ? 'line' : 'lines'} ${texts.join(', ')}${more > 0 ? ` and ${more} more` : ''}`;
}
