/** Values → text, drawings, tables and pages. Pure: no files, no streams. */

export { briefText } from './brief-text.js';
export { comparisonText } from './comparison-text.js';
export { compensationText } from './compensation-text.js';
export { describeProposal, type ProposalText } from './describe-proposals.js';
export { DEVIATIONS_HEADER, deviationsCsv } from './deviations-csv.js';
export type { ReportDrift } from './drift-charts.js';
export { driftRankingText, driftText } from './drift-text.js';
export { type Markup, markup } from './escape-markup.js';
export { fixtureHtml, type ReportFixture } from './fixture-html.js';
export type { FixtureOverlay, FixtureOverlayFeature } from './fixture-overlay.js';
export { fixtureOverlaySvg } from './fixture-overlay.js';
export { fixtureText } from './fixture-text.js';
export { forecastText } from './forecast-text.js';
export { historyEntryText, historyListText, localDay, localTime } from './history-text.js';
export { type OutsideMark, type OutsideMarks, outsideMarks } from './outside-marks.js';
export type {
  OverlayContent,
  OverlayCorner,
  OverlayLine,
  OverlayMark,
} from './overlay-content.js';
export { overlaySvg } from './overlay-svg.js';
export { photoCheckText } from './photo-check-text.js';
export { plainText } from './plain-text.js';
export { MEASURE_OF, QUANTITY_NAME } from './quantity-words.js';
export { regionsText } from './regions-text.js';
export { type ReportAdditions, reportHtml } from './report-html.js';
export { REPORT_MARK } from './report-page.js';
export { picturesInReport, type ReportPicture } from './report-photos.js';
export { showUncertainty, storedFromShown, type Units } from './show-number.js';
export { proposalsText, summaryText } from './summary-text.js';
export type { SummaryOptions } from './terminal-page.js';
