/** "a", "a and b", "a, b and c"; nothing for no name. */
export const andWords = (names: readonly string[]): string =>
  names.length < 2 ? names.join('') : `${names.slice(0, -1).join(', ')} and ${names.at(-1)}`;
