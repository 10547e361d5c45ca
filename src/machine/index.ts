export { periodOf } from './drive-period.js';
export * from './machine-model.js';
