/** Two measurements of one machine: did the correction work? */

export { compareMeasurements, type MeasurementFile } from './compare-measurements.js';
