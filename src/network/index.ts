/** Cameras, poses, machine and evidence in one adjustment; what it fixes, and how well. */

export { type Adjustment, adjust } from './adjust.js';
export { type Departure, listDepartures, shareOfCamera } from './camera-doubts.js';
export { type CommandedView, commandedView, parameterFactor } from './commanded-view.js';
export { compareFresh, type FreshComparison } from './compare-fresh.js';
export {
  type ComparedQuantity,
  compareMethods,
  type MethodComparison,
} from './compare-methods.js';
export { compareRolls, type PairEstimate } from './compare-rolls.js';
export { estimateView } from './estimate-view.js';
export { estimateMachine, type MachineEstimates } from './estimates.js';
export {
  type ExpectedCamera,
  type ExpectedNetwork,
  type ExpectedSizes,
  extentOf,
  foretellNetwork,
} from './expect-network.js';
export { foretell } from './foretell.js';
export { boardFromCommanded, imageFromBoard } from './image-position.js';
export { listCameras, REPORTED_CAMERA_TERMS, type ReportedCameraTerm } from './list-cameras.js';
export {
  isMeasuredOnBoard,
  type LineObservation,
  type NetworkCamera,
  type NetworkEvidence,
  type NetworkInput,
  type NetworkPhoto,
  type NetworkPlacement,
  type NetworkSegment,
  type RuleInPicture,
} from './network-input.js';
export { foretellOneMore, type OneMorePhoto } from './one-more-photo.js';
export { isCameraFree, isTurned, LEAST_TURN_RAD, turnOfPlacements } from './placement-turns.js';
export { rankOf } from './states.js';
export { isKept } from './stochastic.js';
export { type View, viewOf } from './view-of.js';
export { type Extent, type PlannedView, plainPhoto, spanOf } from './view-pose.js';
