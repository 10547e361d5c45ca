/** What a history says: trends, jumps, control charts; the machine or the board. */

export { DAYS_PER_MONTH } from './describe-values.js';
export { LEAST_HUMIDITY } from './explain-change.js';
export { type DriftOptions, findDrifts } from './find-drift.js';
export { type DriftPlot, plotDrift } from './plot-data.js';
export { RUNS_RULES, type RunsRule } from './runs-rules.js';
