/** Ways to spoil a good file: bits, bytes and lengths of any; words of texts; values of records. */

import fc from 'fast-check';

/** Turns a good file into a bad one. */
export type Spoil = (good: Buffer) => Buffer;

/** Not `double`, which draws evenly among the floating-point numbers: most of these are next to 0. */
const share = fc.integer({ min: 0, max: 999_999 }).map((millionths) => millionths / 1e6);

/** A place as a share of the file's length, and often near its head, where lengths and types stand. */
const place = fc.oneof(share, fc.integer({ min: 0, max: 600 }));
const at = (where: number, length: number) =>
  length === 0 ? 0 : Math.min(length - 1, where < 1 ? Math.floor(where * length) : where);

const SPECIAL_BYTES = [
  'ffffffff',
  '7fffffff',
  '80000000',
  '00000000',
  'ffff',
  'ff',
  '00',
  '0a',
  '20',
];

const byteSpoil: fc.Arbitrary<Spoil> = fc.oneof(
  fc.tuple(place, fc.integer({ min: 0, max: 7 })).map(([where, bit]) => (good: Buffer) => {
    const bad = Buffer.from(good);
    if (bad.length > 0) bad[at(where, bad.length)]! ^= 1 << bit;
    return bad;
  }),
  fc.tuple(place, fc.constantFrom(...SPECIAL_BYTES)).map(([where, hex]) => (good: Buffer) => {
    const bad = Buffer.from(good);
    Buffer.from(hex, 'hex').copy(bad, at(where, bad.length));
    return bad;
  }),
  place.map((where) => (good: Buffer) => good.subarray(0, at(where, good.length))),
  fc.tuple(place, fc.integer({ min: 1, max: 64 })).map(([where, count]) => (good: Buffer) => {
    const from = at(where, good.length);
    return Buffer.concat([good.subarray(0, from), good.subarray(from + count)]);
  }),
  fc.tuple(place, place).map(([where, other]) => (good: Buffer) => {
    const [from, to] = [at(where, good.length), at(other, good.length)];
    return Buffer.concat([good.subarray(0, from), good.subarray(to)]);
  }),
  fc
    .tuple(place, fc.uint8Array({ minLength: 1, maxLength: 32 }))
    .map(([where, more]) => (good: Buffer) => {
      const from = at(where, good.length);
      return Buffer.concat([good.subarray(0, from), more, good.subarray(from)]);
    }),
);

/** One to five spoiled places. */
export const spoiledBytes: fc.Arbitrary<Spoil> = fc
  .array(byteSpoil, { minLength: 1, maxLength: 3 })
  .map((all) => (good: Buffer) => all.reduce((bad, spoil) => spoil(bad), good));

/** Values that readers meet seldom. */
const ODD_WORDS = [
  ...['', '0', '-0', '-1', '1e308', '1e999', '-1e999', '1e-320', '99999999999999999999', '0.1e1e1'],
  ...['.', '-', '+', 'NaN', '.nan', '.inf', 'Infinity', 'null', '~', 'true', 'yes', '0x10', '0o7'],
  ...['1,5', '1 000', '1_000', '١٢٣', '−5', '1/0', '5mm', '25.4in', '"', "'", '`', '<script>', '&'],
  ...['{', '}', '[', ']', '[[[[[[', '(((', ')', '#', '%', '%%', ':', '- ', '? ', '! ', '*a', '&a'],
  ...[
    '{{',
    '}}',
    '{%',
    '%}',
    '{{x}}',
    '{{x.stepsPerMm | times: 1e999}}',
    '{% for i in (1..99999999) %}',
  ],
  ...[
    '__proto__',
    'constructor',
    'toString',
    '!!js/function "x"',
    '!!binary aaaa',
    '!!set {a}',
    '<<',
  ],
  ...[
    '\u001b[2J',
    '\u009b31m',
    '\u202e',
    '\u2028',
    '\ud800',
    '\ufeff',
    '\u0000',
    '\r',
    '\n',
    '\t',
    '\u007f',
  ],
  ...[
    '../../../etc/passwd',
    '/dev/full',
    'C:\\x',
    '=1+1',
    '@x',
    "'x",
    'x'.repeat(5000),
    ' '.repeat(20_000),
  ],
  ...[
    '2026-11-20',
    '2026-02-30',
    '9999-99-99',
    '0000-00-00',
    '-271821-04-20',
    '1970-01-01T00:00:00Z',
  ],
];
export const oddWord = fc.oneof(
  { weight: 4, arbitrary: fc.constantFrom(...ODD_WORDS) },
  { weight: 1, arbitrary: fc.string({ unit: 'binary', maxLength: 20 }) },
  { weight: 1, arbitrary: fc.double().map(String) },
);

/** Words of a text are replaced, doubled, moved or lost; lines too. */
const wordSpoil: fc.Arbitrary<Spoil> = fc
  .tuple(
    fc.constantFrom(
      'replace',
      'number',
      'insert',
      'line',
      'swap',
      'repeat',
    ) as fc.Arbitrary<string>,
    share,
    share,
    oddWord,
  )
  .map(([how, first, second, word]) => (good: Buffer) => {
    const text = good.toString('utf8');
    const pattern =
      how === 'number' ? /(-?\d+(?:\.\d+)?)/ : how === 'replace' ? /([\w.-]+)/ : /(\n)/;
    const parts = text.split(pattern);
    const odd = 2 * at(first, Math.floor(parts.length / 2)) + 1;
    const even = 2 * at(second, Math.ceil(parts.length / 2));
    const isThere = odd < parts.length;
    if (how === 'replace' || how === 'number') {
      if (isThere) parts[odd] = word;
    } else if (how === 'insert') parts.splice(even, 0, `${word}\n`);
    else if (how === 'line') parts[even] = word;
    else if (how === 'repeat') parts[even] = `${parts[even]}\n`.repeat(50);
    else if (isThere) [parts[even], parts[odd - 1]] = [parts[odd - 1]!, parts[even]!];
    return Buffer.from(parts.join(''), 'utf8');
  });

export const spoiledText: fc.Arbitrary<Spoil> = fc
  .array(fc.oneof({ weight: 5, arbitrary: wordSpoil }, { weight: 1, arbitrary: byteSpoil }), {
    minLength: 1,
    maxLength: 2,
  })
  .map((all) => (good: Buffer) => all.reduce((bad, spoil) => spoil(bad), good));

/** Of each size, and such as are allowed at the edge. */
const PLAIN_NUMBERS = [
  '0',
  '1',
  '2',
  '3',
  '17',
  '64',
  '100',
  '300',
  '999',
  '3000',
  '30000',
  '99999',
];
const PLAIN_PARTS = ['0.5', '0.001', '0.000001', '12.7', '123456789', '-1', '-300', '1e-300'];

/** Some of a text's numbers become others, so that what stands behind its form meets them. */
export const spoiledNumbers: fc.Arbitrary<Spoil> = fc
  .array(fc.tuple(share, fc.constantFrom(...PLAIN_NUMBERS, ...PLAIN_PARTS)), {
    minLength: 1,
    maxLength: 4,
  })
  .map((all) => (good: Buffer) => {
    const parts = good.toString('utf8').split(/(\d+(?:\.\d+)?)/);
    for (const [where, number] of all) {
      const odd = 2 * at(where, Math.floor(parts.length / 2)) + 1;
      if (odd < parts.length) parts[odd] = number;
    }
    return Buffer.from(parts.join(''), 'utf8');
  });

const DEEP = '['.repeat(20_000) + ']'.repeat(20_000);
/** As they stand in the file: also what no value can be. */
const ODD_JSON = [
  ...[
    'null',
    'true',
    '0',
    '-1',
    '1e308',
    '1e999',
    '-1e-320',
    '123456789012345678901234567890',
    '""',
  ],
  ...[
    '[]',
    '{}',
    '[null]',
    '[0]',
    '{"x":1}',
    '{"__proto__":{"x":1}}',
    '{"constructor":null}',
    DEEP,
  ],
  ...['"\\u0000"', '"\\u001b[2J"', '"\\ud800"', '"../../x"', '"overlay-../x.jpg"', '"=1+1"', '1.5'],
  ...[
    '"<script>alert(1)</script>"',
    '"2026-13-45T00:00:00Z"',
    '"0001-01-01T00:00:00Z"',
    '"measured"',
  ],
  ...[
    `"${'x'.repeat(100_000)}"`,
    `[${'0,'.repeat(2000)}0]`,
    '"undetermined"',
    '"weak"',
    '1e-9',
    '64',
  ],
];

/** Numbers and texts that a schema lets through, so that what comes behind it meets them. */
const ODD_NUMBERS = [
  '0',
  '-0',
  '1',
  '-1',
  '2',
  '64',
  '0.5',
  '1e-320',
  '1e-9',
  '1e9',
  '1e300',
  '-1e300',
];
const ODD_TEXTS = ODD_JSON.filter((json) => json.startsWith('"'));

type Holder = Record<string, unknown>;

/** A value somewhere in a record becomes another of its type or of any, is lost, or is there many times. */
const valueSpoil: fc.Arbitrary<Spoil> = fc
  .record({
    path: fc.array(share, { minLength: 1, maxLength: 9 }),
    how: fc.constantFrom('same', 'same', 'same', 'same', 'any', 'remove', 'repeat'),
    json: fc.constantFrom(...ODD_JSON),
    number: fc.oneof(
      fc.constantFrom(...ODD_NUMBERS),
      fc.double({ noNaN: true, noDefaultInfinity: true }).map(String),
    ),
    text: fc.constantFrom(...ODD_TEXTS),
  })
  .map(({ path, how, json, number, text }) => (good: Buffer) => {
    // What an earlier spoiling made too deep to be written again.
    if (good.includes(DEEP)) return good;
    let data: unknown;
    try {
      data = JSON.parse(good.toString('utf8'));
    } catch {
      return good;
    }
    const found = findValue(data, path);
    if (found === undefined) return good;
    const { holder, key } = found;
    const old = holder[key];
    if (how === 'remove' && Array.isArray(holder)) holder.splice(Number(key), 1);
    else if (how === 'remove') delete holder[key];
    else if (how === 'repeat' && Array.isArray(holder)) holder.push(...Array(30).fill(old));
    else {
      holder[key] = '@odd@';
      const like = typeof old === 'number' ? number : typeof old === 'string' ? text : json;
      return Buffer.from(
        JSON.stringify(data).replace('"@odd@"', () => (how === 'any' ? json : like)),
      );
    }
    return Buffer.from(JSON.stringify(data));
  });

function findValue(
  data: unknown,
  path: readonly number[],
): { holder: Holder; key: string } | undefined {
  let found: { holder: Holder; key: string } | undefined;
  let value = data;
  for (const one of path) {
    if (typeof value !== 'object' || value === null) break;
    const keys = Object.keys(value);
    if (keys.length === 0) break;
    found = { holder: value as Holder, key: keys[at(one, keys.length)]! };
    value = found.holder[found.key];
  }
  return found;
}

export const spoiledJson: fc.Arbitrary<Spoil> = fc.oneof(
  {
    weight: 5,
    arbitrary: fc
      .array(valueSpoil, { minLength: 1, maxLength: 2 })
      .map((all) => (good: Buffer) => all.reduce((bad, spoil) => spoil(bad), good)),
  },
  { weight: 1, arbitrary: spoiledText },
);

/** Templates of settings: pieces of the language thrown together. */
const TEMPLATE_PIECES = [
  ...[
    'steps X = {{x.stepsPerMm}}',
    '{{y.stepsPerMm | round: 3}}',
    '{{squareness.offset}}',
    '\n',
    ' ',
  ],
  ...[
    '{% if x.lostMotion %}',
    '{% else %}',
    '{% endif %}',
    '{% for i in (1..999999999) %}',
    '{% endfor %}',
  ],
  ...[
    '{% assign a = "x" %}',
    '{% assign a = a | append: a %}',
    '{{a}}',
    '{% capture b %}',
    '{% endcapture %}',
  ],
  ...[
    '{% include "/etc/passwd" %}',
    '{% render "x" %}',
    '{% layout "x" %}',
    '{% raw %}',
    '{% endraw %}',
  ],
  ...[
    '{{ "a" | split: "" | join: "x" | times: 9 }}',
    '{{x.constructor.constructor}}',
    '{{__proto__}}',
  ],
  ...[
    '{% liquid assign q = 5 %}',
    '{% tablerow i in (1..9) %}',
    '{% increment n %}',
    '{% cycle 1,2 %}',
  ],
  ...[
    '{{ "" | date: "%Y" }}',
    '{{ x | where_exp: "i", "i" }}',
    '{{ "a" | replace: "a", "aa" }}',
    '{%',
    '}}',
  ],
  ...[
    '{{ 1e999 | divided_by: 0 }}',
    '{{ "<" | escape | url_decode }}',
    '{{ x | inspect }}',
    '{{-',
    '-}}',
  ],
];
export const template: fc.Arbitrary<string> = fc
  .array(fc.oneof(fc.constantFrom(...TEMPLATE_PIECES), oddWord), { minLength: 1, maxLength: 12 })
  .map((pieces) => pieces.join(''));
