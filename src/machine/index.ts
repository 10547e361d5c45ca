export { stepsByGeometry, travelByParts, travelPerTurn } from './drive-geometry.js';
export { drivePeriods } from './drive-periods.js';
export * from './machine-model.js';
export {
  type PositioningAccuracy,
  positioningAccuracy,
  type TargetRuns,
} from './positioning-accuracy.js';
