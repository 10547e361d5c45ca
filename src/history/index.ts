/** What was measured and what happened, kept for years in one file. */

export {
  addEntry,
  countEntries,
  type EventRow,
  eraseEntry,
  type HistoryRow,
  type Imported,
  importEntries,
  listEntries,
  listMachines,
  loadEntries,
  loadEntry,
  type MeasurementRow,
  removeEntry,
  restoreEntry,
  type Selection,
} from './entries.js';
export { exportCsv, exportJson, readExport } from './export-history.js';
export { historyPath } from './history-path.js';
export { holdSignals, Interrupted } from './hold-signals.js';
export {
  listQuantities,
  type QuantityName,
  type StoredQuantities,
  type StoredQuantity,
} from './list-quantities.js';
export {
  type Circumstances,
  type EntrySource,
  type EventSource,
  makeEventEntry,
  makeMeasurementEntry,
  readDay,
} from './make-entry.js';
export { type History, type HistoryAccess, withHistory } from './open-history.js';
export { MIGRATIONS, type Migration } from './schema.js';
export { type WriteNewOptions, writeNewFile } from './write-new-file.js';
