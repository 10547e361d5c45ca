/** Things that lie on the board: a steel rule, clamp blocks, tape. */

import type { CameraFrame } from './pinhole-view.js';
import type { BoardObject } from './scene.js';

/** A block's side is drawn as this many layers between foot and top. */
const LAYERS = 12;

/**
 * Draws an object over the colour at a place of the board.
 *
 * A point at height h above the board hides the place where the ray through it meets the board, so
 * that each layer is looked up where the ray to (x, y) passes that height.
 *
 * @param colour linear reflectances of the board there; changed in place.
 */
export function coverObject(
  object: BoardObject,
  frame: CameraFrame,
  x: number,
  y: number,
  spreadMm: number,
  colour: Float64Array,
): void {
  const [cameraX, cameraY, cameraZ] = frame.positionMm;
  const cos = Math.cos(object.angleRad);
  const sin = Math.sin(object.angleRad);
  const layers = object.heightMm > 2 ? LAYERS : 1;
  const contact = outside(object, cos, sin, x, y);
  const shadow = 0.5 * Math.exp(-Math.max(0, contact) / (1 + 0.35 * object.heightMm));
  if (object.kind !== 'hole') {
    for (let channel = 0; channel < 3; channel++) colour[channel]! *= 1 - shadow;
  }
  for (let layer = 0; layer < layers; layer++) {
    const height = layers === 1 ? object.heightMm : (object.heightMm * layer) / (layers - 1);
    const lift = height / cameraZ;
    const atX = x + lift * (cameraX - x);
    const atY = y + lift * (cameraY - y);
    const distance = outside(object, cos, sin, atX, atY);
    if (distance > 3 * spreadMm) continue;
    const share = 1 / (1 + Math.exp((1.7 * distance) / spreadMm));
    const top = layer === layers - 1;
    const shade = top ? topShade(object, cos, sin, atX, atY, spreadMm) : 0.45;
    for (let channel = 0; channel < 3; channel++) {
      colour[channel]! += share * (object.tone[channel]! * shade - colour[channel]!);
    }
  }
}

/** Distance beyond the object's outline; negative inside. */
function outside(object: BoardObject, cos: number, sin: number, x: number, y: number): number {
  const dx = x - object.centreMm[0];
  const dy = y - object.centreMm[1];
  if (object.kind === 'hole' || object.kind === 'pin') {
    return Math.hypot(dx, dy) - object.sizeMm[0] / 2;
  }
  const beyondLength = Math.abs(dx * cos + dy * sin) - object.sizeMm[0] / 2;
  const beyondWidth = Math.abs(-dx * sin + dy * cos) - object.sizeMm[1] / 2;
  if (beyondLength > 0 && beyondWidth > 0) return Math.hypot(beyondLength, beyondWidth);
  return Math.max(beyondLength, beyondWidth);
}

/** Brightness across the top: a rule's graduation, a clamp's bolt, plain tape. */
function topShade(
  object: BoardObject,
  cos: number,
  sin: number,
  x: number,
  y: number,
  spreadMm: number,
): number {
  const dx = x - object.centreMm[0];
  const dy = y - object.centreMm[1];
  const along = dx * cos + dy * sin + object.sizeMm[0] / 2;
  const across = -dx * sin + dy * cos + object.sizeMm[1] / 2;
  if (object.kind === 'rule') {
    const nearest = Math.round(along / 5) * 5;
    const reach = nearest % 10 === 0 ? 9 : 6;
    if (across > reach) return 1;
    const width = Math.hypot(0.12, spreadMm);
    const off = (along - nearest) / width;
    return 1 - 0.8 * (0.12 / width) * Math.exp(-0.5 * off * off);
  }
  if (object.kind === 'clamp') {
    const fromBolt = Math.hypot(along - object.sizeMm[0] * 0.5, across - object.sizeMm[1] * 0.5);
    const head = object.sizeMm[1] * 0.28;
    return fromBolt < head ? 1.5 - 0.5 * (fromBolt / head) : 1 - 0.15 * (across / object.sizeMm[1]);
  }
  return 1;
}
