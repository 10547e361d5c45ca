/** Reads a chart of a report back: its own markup, and what the numbers at its scales say. */

/** A chart by the beginning of its title. */
export function readChart(html: string, title: string) {
  const found = html
    .split('<svg class="chart"')
    .slice(1)
    .map((text) => text.slice(0, text.indexOf('</svg>')))
    .find((text) => text.includes(`class="chart-title">${title}`));
  if (found === undefined) throw new Error(`no chart ${title}`);
  const number = (text: string) => Number(text.replace('−', '-'));
  const ticks = [
    ...found.matchAll(/<text x="([\d.-]+)" y="([\d.-]+)" text-anchor="(\w+)">([−\d.]+)<\/text>/g),
  ];
  const across = ticks
    .filter(([, , y]) => Number(y) > 0 && found.includes(`<line class="rule" x1="`))
    .filter(([, x]) => Number(x) > 70)
    .map(([, x, , anchor, text]) => ({ at: Number(x), value: number(text!), anchor }))
    .filter(({ anchor }) => anchor === 'middle');
  const up = ticks
    .filter(([, x]) => Number(x) < 70)
    .map(([, , y, , text]) => ({ at: Number(y) - 4, value: number(text!) }));
  return {
    text: found,
    // Dates are no numbers: such a scale is not asked for.
    x: (at: number) => scaleOf(across)(at),
    y: scaleOf(up),
  };
}

/** From drawing units to values, through the first and the last number of a scale. */
function scaleOf(ticks: readonly { at: number; value: number }[]): (at: number) => number {
  const [first, last] = [ticks[0]!, ticks[ticks.length - 1]!];
  if (ticks.length < 2) throw new Error('a scale with fewer than two numbers');
  const perUnit = (last.value - first.value) / (last.at - first.at);
  return (at) => first.value + perUnit * (at - first.at);
}

/** The cells of a table by the label of its region, markup taken out. */
export function readRows(html: string, title: string): string[][] {
  const region = html.slice(html.indexOf(`aria-label="${title}"`));
  return [...region.slice(0, region.indexOf('</table>')).matchAll(/<tr[^>]*>(.*?)<\/tr>/gs)].map(
    ([, row]) =>
      [...row!.matchAll(/<t[hd][^>]*>(.*?)<\/t[hd]>/gs)].map(([, cell]) =>
        cell!.replace(/<[^>]*>/g, ' ').trim(),
      ),
  );
}
