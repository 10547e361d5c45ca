/** The table of deviations for a spreadsheet. */

import type { Measurement } from '../../shared/schemas/measurement.js';

/** First line of every table: tells our own file from others. */
export const DEVIATIONS_HEADER = 'placement,axis,commanded_mm,forward_mm,reverse_mm,u_mm,kind';
/** A tenth of a micrometre: below any noise, above what floating point makes up. */
const DECIMALS = 4;

/**
 * RFC 4180 text with one row per line of the grid and per rung of its ladders (kind): actual minus commanded position, approached
 * rising (forward) and falling (reverse); empty where the line was not marked so. u is the standard
 * uncertainty.
 */
export function deviationsCsv({ deviations }: Pick<Measurement, 'deviations'>): string {
  const number = (value: number | undefined) =>
    value === undefined ? '' : String(Number(value.toFixed(DECIMALS)));
  const rows = deviations.map(({ placement, axis, commanded, forward, reverse, u, rung }) =>
    [
      placement + 1,
      axis,
      number(commanded),
      number(forward),
      number(reverse),
      number(u),
      rung ? 'rung' : 'line',
    ].join(','),
  );
  return `${[DEVIATIONS_HEADER, ...rows].join('\r\n')}\r\n`;
}
