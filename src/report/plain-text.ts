/** Text that somebody else wrote, for a terminal. */

/** What moves the cursor, changes colours or the order of letters: C0, C1, line and paragraph signs, bidirectional marks. */
const ACTS = /[\u0000-\u001f\u007f-\u009f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ufeff]+/g;

/** Everything on one line; what acts on a terminal becomes a replacement character. */
export function plainText(text: string): string {
  return text.replace(/\s*[\r\n\t]+\s*/g, ' ').replace(ACTS, '\ufffd');
}
