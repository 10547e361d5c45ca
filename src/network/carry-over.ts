/** What one network knows, taken over into another one of the same machine and cameras. */

import type { Network, NetworkState } from './network.js';

/**
 * Values of the parameters that both have, by name, and the sizes that were estimated for them; the rest keeps
 * what it begins with.
 *
 * @param into the sizes of its parameters are set.
 * @param start its values to begin with.
 * @param photoOf index in the old network of each of the new one's photos.
 */
export function carryOver(
  from: Network,
  { values: known }: Pick<NetworkState, 'values'>,
  into: Network,
  start: Float64Array,
  photoOf: (photo: number) => number = (photo) => photo,
): Float64Array {
  const values = start.slice();
  const indexOf = new Map(from.table.list.map(({ name }, p) => [name, p]));
  into.table.list.forEach((parameter, p) => {
    const name = parameter.name.replace(/^photo (\d+)/, (_, i) => `photo ${photoOf(Number(i))}`);
    const before = indexOf.get(name);
    if (before === undefined) return;
    values[p] = known[before];
    parameter.priorSigma = from.table.list[before].priorSigma;
  });
  return values;
}
