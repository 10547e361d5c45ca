/** An option that may be repeated: all its values, in their order. */
export function collectValues(value: string, previous: readonly string[] = []): string[] {
  return [...previous, value];
}
