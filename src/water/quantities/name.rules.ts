import { lowered } from '../../platform/words/capitals.ts';
/** A quantity's name as it stands within a sentence: "alkalinity", but "pH"; "total ammonia" for "Ammonia, total". */
export const nameInSentence = (name: string): string =>
  name
    .split(', ')
    .reverse()
    .map((part) => (/^[A-Z][a-z]/.test(part) ? lowered(part) : part))
    .join(' ');
