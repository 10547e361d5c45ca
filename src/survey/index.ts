/** The orchestration: photos + program + evidence → measurement, and its files. */

export { REPORTED_CAMERA_TERMS, type ReportedCameraTerm } from '../network/index.js';
export { networkLayout, networkPlacements, networkSegments } from './adjust-photos.js';
export { type Board, cutTogether } from './board.js';
export { buildEvidence } from './build-evidence.js';
export { type CheckedPhotos, checkPhotos } from './check-photos.js';
export type { FixturePhoto } from './fixture-pictures.js';
export {
  checkOutputFolder,
  type OutputFile,
  type OutputOptions,
  writeOutputFolder,
} from './output-folder.js';
export { evidenceOutsideGrid } from './prepare-survey.js';
export { parseEvidence, readEvidence } from './read-evidence.js';
export { type FixturePoints, readFixturePoints } from './read-fixture-points.js';
export {
  besideMeasurement,
  isFixtureResult,
  readFixtureResult,
  type SavedFixture,
} from './read-fixture-result.js';
export { type LayoutOptions, readLayout } from './read-layout.js';
export { parseMachine, readMachine } from './read-machine.js';
export { readMeasurement, type SavedMeasurement } from './read-measurement.js';
export { readPlacements } from './read-placement.js';
export {
  type ProgramText,
  readCommandsFile,
  readProgramFile,
  readProgramText,
} from './read-program-file.js';
export { RECTIFIED_MM_PER_PX, type RectifiedPhoto, rectifyPhoto } from './rectify-photo.js';
export { survey } from './survey.js';
export { type FixtureRequest, type FixtureSurvey, surveyFixture } from './survey-fixture.js';
export { surveyImagePoints } from './survey-image-points.js';
export type {
  ImagePointsRequest,
  KnownLength,
  MarkedBy,
  OriginCorner,
  SeenCrossing,
  Survey,
  SurveyContext,
  SurveyedPhoto,
  SurveyProgress,
  SurveyRequest,
} from './survey-request.js';
export {
  fixtureResultNames,
  rewriteFixtureReport,
  type WriteFixtureOptions,
  type WrittenFixture,
  writeFixtureResults,
} from './write-fixture-results.js';
export { checkProgramOutput, compensatedPath, writeProgramFile } from './write-program-file.js';
export {
  resultNames,
  rewriteReport,
  type WriteResultsOptions,
  type WrittenResults,
  writeResults,
} from './write-results.js';
