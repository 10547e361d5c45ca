/** A doubt that does not stop a run: coded, in words, with what to do. */

export interface Finding {
  /** Stable code, UPPER_SNAKE. */
  readonly code: string;
  /** What was seen, for people. */
  readonly message: string;
  /** What to do about it. */
  readonly hint?: string;
  /** The photo, line or evidence concerned. */
  readonly where?: string;
}
