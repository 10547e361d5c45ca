/** What a command writes to and what it knows of the terminal; injected, so that tests can look. */

export interface TextStream {
  write(text: string): unknown;
  readonly isTTY?: boolean;
  readonly columns?: number;
}

export interface Streams {
  /** Results, and nothing else. */
  readonly stdout: TextStream;
  readonly stderr: TextStream;
  readonly env: Readonly<Record<string, string | undefined>>;
}

/** Of a terminal that does not tell, and of files and pipes. */
const USUAL_COLUMNS = 80;

export function columnsOf(stream: TextStream): number {
  return stream.columns ?? USUAL_COLUMNS;
}
