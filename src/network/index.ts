/** Cameras, poses, machine and evidence in one adjustment; what it fixes, and how well. */

export { type Adjustment, adjust } from './adjust.js';
export { estimateView } from './estimate-view.js';
export { estimateMachine, type MachineEstimates } from './estimates.js';
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
export { isKept } from './stochastic.js';
export { type View, viewOf } from './view-of.js';
