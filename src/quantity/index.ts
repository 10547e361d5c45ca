export * from './failed-read.js';
export * from './failure.js';
export * from './finding.js';
export * from './frames.js';
export * from './image.js';
export * from './quantities-by-key.js';
