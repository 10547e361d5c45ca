export * from './machine-model.js';
