/** Terms of a camera that were adjusted without priors, and that nothing fixes. */

import type { Adjustment } from '../network/index.js';
import type { Finding } from '../quantity/index.js';

/**
 * A term that is left free has a prior a thousand times wider than what is believed of any phone, so that the
 * equations can be solved. Known no better than to a hundredth of that, it is ten times more in doubt than
 * with a phone that nobody ever measured: its value says nothing.
 */
const NOTHING_KNOWN = 0.01;
/** Standard uncertainty of a principal distance in parts of itself, beyond which a linear estimate of it holds no more. */
const MOST_OF_FOCAL = 0.1;

/** Where the terms were not chosen, priors hold them: nothing is said then. */
export function doubtCameraTerms({ network, state, covariance }: Adjustment): Finding[] {
  const { input, table, cameraAt } = network;
  const { cameraTerms } = input.beliefs ?? {};
  if (cameraTerms === undefined) return [];
  const n = table.size;
  return cameraAt.flatMap((_, camera): Finding[] => {
    const open = cameraTerms.filter((term) => {
      const p = table.list.findIndex(({ name }) => name === `camera ${camera} ${term}`);
      const u = Math.sqrt(covariance[p * n + p]);
      const most = NOTHING_KNOWN * table.list[p].priorSigma;
      return !(u < (term === 'f' ? Math.min(most, MOST_OF_FOCAL * state.values[p]) : most));
    });
    if (open.length === 0) return [];
    return [
      {
        code: 'CAMERA_TERMS_OPEN',
        message: `the points do not fix ${open.join(', ')}: their values say nothing, and others may lean on them`,
        hint: 'add photos tilted by 20 to 40° in several directions, points out to the corners of the picture, or leave terms out of --camera-terms',
      },
    ];
  });
}
