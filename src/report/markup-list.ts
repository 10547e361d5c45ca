/** A list of sentences; nothing where there are none. */

import { type Markup, markup } from './escape-markup.js';

export function list(items: readonly string[]): Markup | undefined {
  if (items.length === 0) return undefined;
  return markup`<ul>${items.map((item) => markup`<li>${item}</li>`)}</ul>`;
}
