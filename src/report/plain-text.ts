/** Text that somebody else wrote, for a terminal. */

/** What moves the cursor, changes colours or the order of letters: C0, C1, line and paragraph signs, bidirectional marks. */
const ACTS = /[\u0000-\u001f\u007f-\u009f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ufeff]+/g;

/** Everything on one line; what acts on a terminal becomes a replacement character. */
export function plainText(text: string): string {
  const parts = text.split(/[\r\n\t]+/).map(trimInside);
  const isShown = (part: string, i: number) => part !== '' || i === 0 || i === parts.length - 1;
  return parts.filter(isShown).join(' ').replace(ACTS, '\ufffd');
}

/** Blanks about a broken line go; those at the ends of the whole text stay. Not a pattern: it would take n² steps. */
function trimInside(part: string, i: number, all: readonly string[]): string {
  const start = i === 0 ? part : part.trimStart();
  return i === all.length - 1 ? start : start.trimEnd();
}
