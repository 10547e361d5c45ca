/** Programs rewritten by the inverse of the machine's map. */

export {
  COMPENSATED_TERMS,
  type CompensatedTerm,
  type LeftOutTerm,
  type UsedTerm,
} from './choose-terms.js';
export {
  COMPENSATION_SCHEMA_ID,
  type CompensateRequest,
  type Compensation,
  type CompensationRecord,
  compensate,
  DEFAULT_TOLERANCE_MM,
} from './compensate.js';
