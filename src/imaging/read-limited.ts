/** A file's bytes, up to a limit: a slip in a name must not fill the memory. */

import { open } from 'node:fs/promises';

const CHUNK_BYTES = 1 << 20;

/**
 * Reads files, pipes and devices; of what has no end no more than the limit is taken.
 *
 * @returns undefined where there is more than the limit.
 * @throws what the file system throws.
 */
export async function readLimited(path: string, mostBytes: number): Promise<Buffer | undefined> {
  const file = await open(path, 'r');
  try {
    const found = await file.stat();
    if (found.isFile() && found.size > mostBytes) return undefined;
    const chunks: Buffer[] = [];
    let length = 0;
    for (;;) {
      const room = Math.max(CHUNK_BYTES, length === 0 ? Math.min(found.size + 1, mostBytes) : 0);
      const { buffer, bytesRead } = await file.read(Buffer.allocUnsafe(room), 0, room);
      if (bytesRead === 0) break;
      length += bytesRead;
      if (length > mostBytes) return undefined;
      chunks.push(buffer.subarray(0, bytesRead));
    }
    return chunks.length === 1 ? chunks[0] : Buffer.concat(chunks, length);
  } finally {
    await file.close();
  }
}
