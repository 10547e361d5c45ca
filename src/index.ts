/** The library's only door. */

export * from './comparison/index.js';
export * from './compensation/index.js';
export * from './correction/index.js';
export * from './drift/index.js';
export * from './fixture/index.js';
export * from './forecast/index.js';
export * from './history/index.js';
export { focalLengthPx } from './imaging/index.js';
export { drivePeriods } from './machine/index.js';
export * from './plan/index.js';
export { decodeProgramText, latticeProgram, readCommands, readProgram } from './program/index.js';
export * from './quantity/index.js';
export * from './report/index.js';
export * from './survey/index.js';
