/** The modes that a line sets: spindle, feed, plane, units, distances, compensation, motion. */

import { MM_PER_INCH } from '../../shared/mm-per-inch.js';
import type { Block } from './arrange-words.js';
import { DRILLING_G, MOTION_G } from './known-codes.js';
import { isSpindleOn, type ModalState, NO_CYCLE_WORDS } from './modal-state.js';

export function setModes(state: ModalState, block: Block): void {
  for (const code of block.g.keys()) setMode(state, code);
  setFeed(state, block);
  setSpindle(state, block);
}

function setMode(state: ModalState, code: number): void {
  switch (code) {
    case 170:
    case 180:
    case 190:
      state.plane = code;
      return;
    case 200:
      setUnits(state, 'inch');
      return;
    case 210:
      setUnits(state, 'mm');
      return;
    case 400:
      if (state.compensation === 'on') state.compensation = 'ending';
      return;
    case 410:
    case 411:
    case 420:
    case 421:
      state.compensation = 'on';
      return;
    case 900:
    case 910:
      state.isIncremental = code === 910;
      return;
    case 901:
    case 911:
      state.areCentresAbsolute = code === 901;
      return;
    case 930:
    case 940:
    case 950:
      setFeedMode(state, code === 940);
      return;
    case 980:
    case 990:
      state.returnsToR = code === 990;
      return;
    default:
      if (MOTION_G.has(code)) setMotion(state, code);
  }
}

function setUnits(state: ModalState, units: 'mm' | 'inch'): void {
  const mmPerUnit = units === 'mm' ? 1 : MM_PER_INCH;
  // Whether the number or the speed stays, controllers disagree.
  if (mmPerUnit !== state.mmPerUnit) state.feedMmPerMin = undefined;
  state.mmPerUnit = mmPerUnit;
  state.unitsSeen.add(units);
}

function setFeedMode(state: ModalState, isPerMinute: boolean): void {
  if (isPerMinute !== state.isFeedPerMinute) state.feedMmPerMin = undefined;
  state.isFeedPerMinute = isPerMinute;
}

/** R and Z of the cycles hold from one cycle to the next, and end with any other motion. */
function setMotion(state: ModalState, code: number): void {
  state.motionCode = code;
  if (!DRILLING_G.has(code)) state.cycleWords = NO_CYCLE_WORDS;
}

function setFeed(state: ModalState, { values }: Block): void {
  const feed = values.get('F');
  if (feed !== undefined && state.isFeedPerMinute) state.feedMmPerMin = feed * state.mmPerUnit;
}

function setSpindle(state: ModalState, { m, values }: Block): void {
  const wasOn = isSpindleOn(state);
  const power = values.get('S');
  if (power !== undefined) state.power = power;
  if (m.has(3) || m.has(4)) state.spindle = 'on';
  if (m.has(5)) state.spindle = 'off';
  if (wasOn && !isSpindleOn(state)) state.spindleSession += 1;
}
