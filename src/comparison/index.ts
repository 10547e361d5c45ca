/** Measurements of one machine: did the correction work, and does it err alike everywhere? */

export { compareMeasurements, type MeasurementFile } from './compare-measurements.js';
export { compareRegions } from './compare-regions.js';
