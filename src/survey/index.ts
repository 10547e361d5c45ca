/** The orchestration: photos + program + evidence → measurement, and its files. */

export { parseEvidence, readEvidence } from './read-evidence.js';
export { parseMachine, readMachine } from './read-machine.js';
export { survey } from './survey.js';
export type {
  KnownLength,
  MarkedBy,
  OriginCorner,
  Survey,
  SurveyContext,
  SurveyedPhoto,
  SurveyProgress,
  SurveyRequest,
} from './survey-request.js';
