/** The decoder of pictures: loaded when the first one is opened, as most commands open none. */

type SharpModule = typeof import('sharp').default;

/** About a tenth of a second the first time. */
export async function loadSharp(): Promise<SharpModule> {
  const { default: sharp } = await import('sharp');
  // No picture is opened twice alike: what the decoder would keep for that is memory lost.
  sharp.cache(false);
  return sharp;
}
