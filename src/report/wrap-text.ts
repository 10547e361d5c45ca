/** Text in lines of a given width. */

/**
 * Breaks between words. A word longer than the line stands alone on its own.
 *
 * @param first what stands before the first line; the others are indented as far.
 */
export function wrapText(text: string, width: number, first = ''): string[] {
  const indent = ' '.repeat(first.length);
  const lines: string[] = [];
  let line = first;
  let isEmpty = true;
  for (const word of text.split(/\s+/).filter((one) => one !== '')) {
    if (!isEmpty && line.length + 1 + word.length > width) {
      lines.push(line);
      line = indent;
      isEmpty = true;
    }
    line += (isEmpty ? '' : ' ') + word;
    isEmpty = false;
  }
  return [...lines, line];
}
