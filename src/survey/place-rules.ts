/** Rules lying in pictures: from the pixels that people read to those of the photos in the adjustment. */

import { basename } from 'node:path';
import { displayFrame } from '../imaging/index.js';
import { commandedFromImage } from '../marks/index.js';
import type { RuleInPicture } from '../network/index.js';
import { type Finding, failed, type Outcome, success } from '../quantity/index.js';
import type { Usable } from './adjust-photos.js';
import { checkLength, type StatedRule } from './build-evidence.js';

/** Every rule must lie in a photo that was given. Fails: EVIDENCE_INVALID. */
export function checkRulePhotos(
  rules: readonly StatedRule[],
  photoFiles: readonly string[],
): Outcome<undefined> {
  const names = photoFiles.map((path) => basename(path));
  const lost = rules.find(({ photoName }) => !isNamed(photoFiles, photoName));
  if (lost === undefined) return success(undefined);
  return failed('EVIDENCE_INVALID', `no photo "${lost.photoName}" is given`, {
    where: lost.what,
    hint:
      names.length === 0
        ? 'a rule counts only beside the photo that shows it: name that photo'
        : `name one of ${names.join(', ')}`,
  });
}

/**
 * @returns the rules with sensor pixels of the photos as they are stored, `photo` being an index into `usable`;
 * a finding for each whose photo was left out.
 * Fails: EVIDENCE_INVALID for a pixel outside its picture; UNITS_SUSPECT.
 */
export function placeRules(
  rules: readonly StatedRule[],
  usable: readonly Usable[],
): Outcome<{ rules: RuleInPicture[]; findings: Finding[] }> {
  const placed: RuleInPicture[] = [];
  const findings: Finding[] = [];
  for (const stated of rules) {
    const photo = usable.findIndex(({ fate }) => isNamed([fate.path], stated.photoName));
    if (photo < 0) {
      findings.push({
        code: 'EVIDENCE_NOT_USED',
        message: 'the photo that shows it was left out, and so was the rule',
        hint: 'take that photo again, with the rule in it',
        where: stated.what,
      });
      continue;
    }
    const one = placeRule(stated, photo, usable[photo]);
    if (!one.ok) return one;
    placed.push(one.value.rule);
    findings.push(...one.value.findings);
  }
  return success({ rules: placed, findings });
}

function isNamed(paths: readonly string[], name: string): boolean {
  return paths.some((path) => path === name || basename(path) === name);
}

function placeRule(
  { photoName: _, fromShown, toShown, ...stated }: StatedRule,
  photo: number,
  { examined }: Usable,
): Outcome<{ rule: RuleInPicture; findings: Finding[] }> {
  const { widthPx, heightPx, exif } = examined.photo;
  const frame = displayFrame({ widthPx, heightPx }, exif.orientation, Number.POSITIVE_INFINITY);
  for (const [column, row] of [fromShown, toShown]) {
    if (column >= 0 && column < frame.widthPx && row >= 0 && row < frame.heightPx) continue;
    return failed(
      'EVIDENCE_INVALID',
      `(${column}, ${row}) lies outside the picture, which has ${frame.widthPx} columns and ${frame.heightPx} rows`,
      {
        where: stated.what,
        hint: 'give column and row of the upright picture, in its full size, from its top left corner',
      },
    );
  }
  const [fromPx, toPx] = [fromShown, toShown].map(([column, row]) =>
    frame.sensorFromDisplay([column + 0.5, row + 0.5]),
  );
  const [from, to] = [fromPx, toPx].map((at) => commandedFromImage(examined.marks.map, at));
  const commandedMm = Math.hypot(to[0] - from[0], to[1] - from[1]);
  const checked = checkLength(stated.what, 'on the rule', stated.lengthMm, commandedMm);
  if (!checked.ok) return checked;
  return success({ rule: { ...stated, photo, fromPx, toPx }, findings: checked.value });
}
