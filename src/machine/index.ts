export { drivePeriods } from './drive-periods.js';
export * from './machine-model.js';
