/** Text in XML and HTML. */

const ENTITIES: Record<string, string> = {
  '&': '&amp;',
  '<': '&lt;',
  '>': '&gt;',
  '"': '&quot;',
  "'": '&#39;',
};

/** Safe as text and inside quoted attributes; control characters, which XML forbids, become blanks. */
export function escapeMarkup(text: string): string {
  return text
    .replace(/[\u0000-\u0008\u000b\u000c\u000e-\u001f\ufffe\uffff]/g, ' ')
    .replace(/[&<>"']/g, (character) => ENTITIES[character]!);
}

/** Markup that needs no escaping any more. */
export class Markup {
  readonly text: string;
  constructor(text: string) {
    this.text = text;
  }
}

type Part = string | number | Markup | undefined | readonly Part[];

/** Template tag: literal parts are markup, inserted strings are escaped, markup and lists pass. */
export function markup(literals: TemplateStringsArray, ...parts: readonly Part[]): Markup {
  return new Markup(
    literals.reduce((text, literal, i) => text + renderPart(parts[i - 1]) + literal),
  );
}

function renderPart(part: Part): string {
  if (part === undefined) return '';
  if (part instanceof Markup) return part.text;
  if (typeof part === 'object') return part.map(renderPart).join('');
  return escapeMarkup(String(part));
}
