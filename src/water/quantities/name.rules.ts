/** A quantity's name as it stands within a sentence: "alkalinity", but "pH"; "total ammonia" for "Ammonia, total". */
export const nameInSentence = (name: string): string =>
  name
    .split(', ')
    .reverse()
    .map((part) => (/^[A-Z][a-z]/.test(part) ? `${part.charAt(0).toLowerCase()}${part.slice(1)}` : part))
    .join(' ');
