/** The day on which a board was seen: what was changed on the machine since is not in the measurement. */

import type { Measurement } from '../../shared/schemas/measurement.js';

/** As stated, else as the first photo says, else when it was evaluated: `2026-11-20`. */
export function seenOn({
  taken,
  photos,
  measuredAt,
}: Pick<Measurement, 'taken' | 'photos' | 'measuredAt'>): string {
  const days = photos.flatMap(({ used, takenAt }) => {
    const date = used ? /^(\d{4})[-:](\d{2})[-:](\d{2})/.exec(takenAt ?? '') : null;
    return date === null ? [] : [`${date[1]}-${date[2]}-${date[3]}`];
  });
  return (taken ?? days.sort()[0] ?? measuredAt).slice(0, 10);
}
