/** What the threads that examine photos are told and tell; failures are packed, since a class is lost on the way. */

import type { MessagePort } from 'node:worker_threads';
import { Failure, type FailureDetails } from '../quantity/index.js';
import type { PhotoFate } from './examine-photo.js';

export interface PhotoTask {
  readonly path: string;
  /** For what is told of this photo; answers to questions come back through it, one at a time. */
  readonly port: MessagePort;
}

export type FromWorker =
  | { readonly kind: 'step'; readonly step: string }
  /** Answered by a name, or undefined. */
  | { readonly kind: 'twin?'; readonly sha256: string }
  /** Answered by the board. */
  | { readonly kind: 'board?' }
  | { readonly kind: 'fate'; readonly fate: PackedFate }
  | { readonly kind: 'fault'; readonly thrown: unknown };

/** A fate whose failure is a plain object. */
export interface PackedFate {
  readonly fate: PhotoFate;
  readonly failure?: Omit<FailureDetails, 'cause'> & {
    readonly code: Failure['code'];
    readonly message: string;
    /** In words: a cause may hold what cannot be sent. */
    readonly cause?: string;
  };
}

/** Stands where the packed failure will be put again. */
const SENT_APART = { ok: false, failure: undefined } as unknown as PhotoFate['outcome'];

export function packFate(fate: PhotoFate): PackedFate {
  if (fate.outcome.ok) return { fate };
  const { code, message, where, hint, figures, cause } = fate.outcome.failure;
  return {
    fate: { ...fate, outcome: SENT_APART },
    failure: {
      code,
      message,
      figures,
      ...(where === undefined ? {} : { where }),
      ...(hint === undefined ? {} : { hint }),
      ...(cause === undefined ? {} : { cause: String(cause) }),
    },
  };
}

export function unpackFate({ fate, failure }: PackedFate): PhotoFate {
  if (failure === undefined) return fate;
  const { code, message, ...details } = failure;
  return { ...fate, outcome: { ok: false, failure: new Failure(code, message, details) } };
}
