/** How a program says that it was compensated, so that it is neither compensated again nor measured with. */

/** Stands in a comment near the top. */
export const COMPENSATED_MARK = 'COMPENSATED BY GANTRUE';

/** A comment of either form holds the mark, whatever an editor made of capitals and blanks. */
export function isMarkedCompensated(text: string): boolean {
  return /^[^\n\r]*[(;][^\n\r]*compensated\s+by\s+gantrue/im.test(text);
}
