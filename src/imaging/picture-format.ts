/** What kind of file the first bytes announce. File names are not trusted. */

export type PictureFormat = 'jpeg' | 'png' | 'webp' | 'tiff' | 'gif' | 'avif' | 'bmp';

/** Brands of the ISO base media file format (ISO/IEC 23008-12 and its registry, from memory). */
const AVIF_BRANDS: ReadonlySet<string> = new Set(['avif', 'avis']);
const HEIC_BRANDS: ReadonlySet<string> = new Set([
  'heic',
  'heix',
  'heim',
  'heis',
  'hevc',
  'hevx',
  'hevm',
  'hevs',
  'mif1',
  'msf1',
]);

/** More brands than any phone writes; the length in a damaged file may be anything. */
const MOST_BRAND_BYTES = 256;

/** The format of a file from its beginning; undefined where it is no picture made of pixels. */
export function findPictureFormat(bytes: Uint8Array): PictureFormat | 'heic' | undefined {
  const start = Buffer.from(bytes.buffer, bytes.byteOffset, Math.min(bytes.length, 1024));
  const hex = start.toString('hex', 0, 8);
  const text = start.toString('latin1');
  if (hex.startsWith('ffd8ff')) return 'jpeg';
  if (hex === '89504e470d0a1a0a') return 'png';
  if (text.startsWith('RIFF') && text.slice(8, 12) === 'WEBP') return 'webp';
  // Little and big endian, classic and 64-bit.
  if (/^(49492a00|4d4d002a|49492b00|4d4d002b)/.test(hex)) return 'tiff';
  if (/^GIF8[79]a/.test(text)) return 'gif';
  if (text.startsWith('BM') && start.length >= 26) return 'bmp';
  if (text.slice(4, 8) === 'ftyp') return findBrand(start);
  return undefined;
}

function findBrand(start: Buffer): 'avif' | 'heic' | undefined {
  const length = Math.min(start.length, start.readUInt32BE(0), MOST_BRAND_BYTES);
  const brands: string[] = [];
  for (let at = 8; at + 4 <= length; at += 4) {
    // The four bytes behind the main brand are its version.
    if (at !== 12) brands.push(start.toString('latin1', at, at + 4));
  }
  // Both kinds also carry the general brand mif1, so the special one is asked for first.
  if (brands.some((brand) => AVIF_BRANDS.has(brand))) return 'avif';
  if (brands.some((brand) => HEIC_BRANDS.has(brand))) return 'heic';
  return undefined;
}
