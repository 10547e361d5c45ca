/** The library's only door. */

export * from './quantity/index.js';
