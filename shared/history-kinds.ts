/** Words with a fixed meaning in the history. */

/**
 * What was photographed: marks made for this measurement show the machine, marks that had been on the board for
 * long show the board.
 */
export const MARKS_AGES = ['fresh', 'old', 'unknown'] as const;

/** What happened; every kind but `note` ends the stretch over which a trend is drawn. */
export const EVENT_KINDS = ['repair', 'settings', 'crash', 'board', 'note'] as const;

export type MarksAge = (typeof MARKS_AGES)[number];
export type EventKind = (typeof EVENT_KINDS)[number];
