/** A result as JSON for standard output. */

/** Legal in JSON as they are, but they act on a terminal: C1, line and paragraph signs, bidirectional marks. */
const ACTS = /[\u007f-\u009f\u2028-\u202e\u2066-\u2069]/g;

/** Indented, one line end behind; reads back as the same value. */
export function jsonText(value: unknown): string {
  return escapeJson(`${JSON.stringify(value, undefined, 2)}\n`);
}

/** The same JSON without a character that acts on a terminal. */
export function escapeJson(text: string): string {
  return text.replace(ACTS, (one) => `\\u${one.charCodeAt(0).toString(16).padStart(4, '0')}`);
}
