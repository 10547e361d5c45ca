/**
 * The one catalogue of failures a user can meet. The README's table lists the same codes; a test
 * compares both ways. A retired code is never used again.
 */

/** Exit codes of the command line. */
export const EXIT = {
  done: 0,
  outsideLimits: 1,
  wrongCall: 2,
  unusableInput: 3,
  undetermined: 4,
  fault: 70,
} as const;

interface FailureEntry {
  readonly exit: number;
  /** One line for the README's table. */
  readonly meaning: string;
}

export const FAILURE_CODES = {
  WRONG_CALL: { exit: EXIT.wrongCall, meaning: 'The command line itself is wrong.' },
  OUTPUT_EXISTS: {
    exit: EXIT.wrongCall,
    meaning: 'A result is already there and --force was not given.',
  },
  FILE_MISSING: { exit: EXIT.unusableInput, meaning: 'A named file does not exist.' },
  FILE_UNREADABLE: { exit: EXIT.unusableInput, meaning: 'A file exists but cannot be read.' },
  OUTPUT_UNWRITABLE: { exit: EXIT.unusableInput, meaning: 'The results cannot be written there.' },
  NOT_A_PHOTO: { exit: EXIT.unusableInput, meaning: 'The file is no picture of a known format.' },
  HEIC_UNSUPPORTED: {
    exit: EXIT.unusableInput,
    meaning: 'HEIC pictures are not read: let the phone save JPEG.',
  },
  PHOTO_TRUNCATED: {
    exit: EXIT.unusableInput,
    meaning: 'The picture file is cut short or damaged.',
  },
  PHOTO_TOO_LARGE: { exit: EXIT.unusableInput, meaning: 'The picture has too many pixels.' },
  PHOTO_TOO_SMALL: { exit: EXIT.unusableInput, meaning: 'The picture has too few pixels.' },
  PHOTO_BLANK: { exit: EXIT.unusableInput, meaning: 'The picture shows nothing.' },
  PHOTO_BLURRED: { exit: EXIT.unusableInput, meaning: 'The marks are too blurred to be located.' },
  PHOTO_DUPLICATE: { exit: EXIT.unusableInput, meaning: 'The same picture was given twice.' },
  GRID_NOT_FOUND: {
    exit: EXIT.unusableInput,
    meaning: 'The grid of the program was not found in the picture.',
  },
  GRID_AMBIGUOUS: {
    exit: EXIT.unusableInput,
    meaning: 'The grid fits the picture in more than one way.',
  },
  NO_USABLE_PHOTO: { exit: EXIT.unusableInput, meaning: 'None of the photos could be used.' },
  PROGRAM_INVALID: { exit: EXIT.unusableInput, meaning: 'The program text cannot be read.' },
  PROGRAM_NO_MARKS: { exit: EXIT.unusableInput, meaning: 'The program marks nothing.' },
  PROGRAM_NO_GRID: {
    exit: EXIT.unusableInput,
    meaning: 'The marks of the program form no grid of lines.',
  },
  UNITS_SUSPECT: {
    exit: EXIT.unusableInput,
    meaning: 'A length is off by about 25.4: mm and inch.',
  },
  MACHINE_INVALID: { exit: EXIT.unusableInput, meaning: 'The machine file cannot be used.' },
  EVIDENCE_INVALID: { exit: EXIT.unusableInput, meaning: 'The evidence cannot be used.' },
  POINTS_INVALID: {
    exit: EXIT.unusableInput,
    meaning: 'The file of measured points cannot be used.',
  },
  IMAGE_POINTS_INVALID: {
    exit: EXIT.unusableInput,
    meaning: 'The file of image points cannot be used.',
  },
  PLAN_INVALID: {
    exit: EXIT.unusableInput,
    meaning: 'The record of a plan cannot be used.',
  },
  MEASUREMENT_INVALID: {
    exit: EXIT.unusableInput,
    meaning: 'The saved measurement cannot be used.',
  },
  ALREADY_COMPENSATED: {
    exit: EXIT.unusableInput,
    meaning: 'The program was compensated before.',
  },
  NOTHING_TO_COMPENSATE: {
    exit: EXIT.unusableInput,
    meaning: 'The measurement holds nothing to compensate for.',
  },
  COMPENSATION_UNSAFE: {
    exit: EXIT.unusableInput,
    meaning: 'The program holds what cannot be compensated safely.',
  },
  TRAVEL_EXCEEDED: {
    exit: EXIT.unusableInput,
    meaning: 'The compensated program needs more than the travel.',
  },
  HISTORY_FOREIGN: {
    exit: EXIT.unusableInput,
    meaning: 'The file is no history: another program wrote it.',
  },
  HISTORY_DAMAGED: { exit: EXIT.unusableInput, meaning: 'The history is damaged.' },
  HISTORY_NEWER: {
    exit: EXIT.unusableInput,
    meaning: 'A later version of the tool wrote the history.',
  },
  HISTORY_BUSY: {
    exit: EXIT.unusableInput,
    meaning: 'Another program keeps writing to the history.',
  },
  HISTORY_UNWRITABLE: {
    exit: EXIT.unusableInput,
    meaning: 'The history cannot be written: disk, permission.',
  },
  HISTORY_EXPORT_INVALID: {
    exit: EXIT.unusableInput,
    meaning: 'The file to import is no export of a history.',
  },
  ENTRY_MISSING: { exit: EXIT.wrongCall, meaning: 'The history has no such entry or machine.' },
  ENTRY_KNOWN: { exit: EXIT.wrongCall, meaning: 'The measurement is in the history already.' },
  NOT_COMPARABLE: {
    exit: EXIT.unusableInput,
    meaning: 'The two measurements are of different machines.',
  },
  LAYOUT_INVALID: {
    exit: EXIT.unusableInput,
    meaning: 'The layout of the fixture cannot be used.',
  },
  FIXTURE_INVALID: {
    exit: EXIT.unusableInput,
    meaning: 'The saved result of a fixture cannot be used.',
  },
  FEATURES_NOT_FOUND: {
    exit: EXIT.unusableInput,
    meaning: 'None of the layout’s features was found.',
  },
  NO_CONVERGENCE: { exit: EXIT.unusableInput, meaning: 'The adjustment found no solution.' },
  WORKER_LOST: {
    exit: EXIT.fault,
    meaning: 'A thread that examined photos died, as for lack of memory.',
  },
  INTERNAL: { exit: EXIT.fault, meaning: 'A fault of the tool itself.' },
} as const satisfies Record<string, FailureEntry>;

export type FailureCode = keyof typeof FAILURE_CODES;
