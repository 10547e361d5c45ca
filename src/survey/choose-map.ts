/** Which way round a grid that looks the same after a turn lies, from the corner where people see its origin. */

import { displayFrame, type Photo } from '../imaging/index.js';
import { type ImageMap, imageFromCommanded, type LatticeFit } from '../marks/index.js';
import type { Grid } from '../program/index.js';
import type { OriginCorner } from './survey-request.js';

/**
 * The map, among the found one and its rivals, that puts the commanded corner nearest the origin
 * into the named corner of the picture as people see it.
 */
export function chooseMap(
  found: LatticeFit,
  origin: OriginCorner,
  photo: Pick<Photo, 'widthPx' | 'heightPx' | 'exif'>,
  grid: Grid,
): ImageMap {
  const upright = displayFrame(photo, photo.exif.orientation);
  const [x, y] = [grid.linesAtX, grid.linesAtY].map((lines) => [
    lines[0].positionMm,
    lines[lines.length - 1].positionMm,
  ]);
  const corners = x.flatMap((cx) => y.map((cy) => [cx, cy] as const));
  const nearest = corners.reduce((best, corner) =>
    Math.hypot(corner[0], corner[1]) < Math.hypot(best[0], best[1]) ? corner : best,
  );
  const wantsTop = origin.startsWith('top');
  const wantsLeft = origin.endsWith('left');
  // How far the origin's corner lies toward the named corner, from the middle of the grid.
  const reach = (map: ImageMap) => {
    const shown = corners.map(([cx, cy]) =>
      upright.displayFromSensor(imageFromCommanded(map, cx, cy)),
    );
    const middle = [0, 1].map((i) => shown.reduce((sum, p) => sum + p[i] / shown.length, 0));
    const own = shown[corners.indexOf(nearest)];
    const right = own[0] - middle[0];
    const down = own[1] - middle[1];
    return (wantsLeft ? -right : right) + (wantsTop ? -down : down);
  };
  return [found.map, ...found.rivals.map((rival) => rival.map)].reduce((best, map) =>
    reach(map) > reach(best) ? map : best,
  );
}
