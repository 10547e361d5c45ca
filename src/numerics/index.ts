export * from './cholesky.js';
export * from './fit-projective-map.js';
export * from './generalised-fit.js';
export * from './minimise.js';
export * from './normal-equations.js';
export * from './orthogonal-polynomials.js';
export * from './robust.js';
export * from './sample-normal.js';
