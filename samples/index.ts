/** The door of the scene generator. */

export {
  evenPositions,
  GRID_PROGRAM_DEFAULTS,
  type GridProgram,
  type GridProgramOptions,
  gridProgram,
  unevenPositions,
} from './grid-program.js';
export {
  curveValue,
  gridLines,
  type LineDeviation,
  landedPosition,
  lineDeviation,
  type MachineErrors,
  type SmoothCurve,
} from './machine-errors.js';
export { type MachineTruth, machineTruth } from './machine-truth.js';
export type { MarkKind, MarkStyle } from './mark-profile.js';
export {
  type CommandedPlace,
  type ObservationNoise,
  placesAlongStrokes,
  projectCommanded,
  type SimulatedObservation,
  simulateObservations,
} from './observations.js';
export {
  type LaidRule,
  measureNodes,
  type NodeMeasuring,
  type NodeToMeasure,
  seeRule,
} from './other-evidence.js';
export {
  type BoardShape,
  boardFromPixel,
  type CameraStand,
  cameraFrame,
  type Lens,
  pixelFromBoard,
} from './pinhole-view.js';
export {
  type MarkedPlace,
  type MarkedPlacement,
  observePlacements,
  type PlacementNoise,
  type PlacementObservation,
} from './placement-observations.js';
export {
  type LensState,
  RANDOM_SCENE_DEFAULTS,
  type RandomScene,
  type RandomSceneOptions,
  randomScene,
} from './random-scene.js';
export {
  type BoardLook,
  type BoardObject,
  type CameraBody,
  equivalentFocalLength,
  type Lighting,
  type PhotoPlan,
  type PhotoTruth,
  type PlacementTruth,
  type PreparedBoard,
  prepareBoard,
  renderPhoto,
  renderScene,
  type Scene,
  type SceneTruth,
  type SecondMarking,
  type Shadow,
  type SimulatedPhoto,
  sceneTruth,
} from './scene.js';
export { type SampleSet, signShopSet, writeSampleSet } from './sign-shop-set.js';
export { type SimulateRequest, type Simulation, simulate } from './simulate.js';
export { drawTapedLength, type TapedLength, tapedLengthText, tapeLength } from './taped-length.js';
export { type TurnedPairOptions, turnBoard } from './turn-board.js';
