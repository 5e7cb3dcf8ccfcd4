/** Why lots are kept apart, as a choice. */
export const PURPOSES = [
  { value: 'observe', text: 'To be observed' },
  { value: 'pests', text: 'For pests' },
  { value: 'heal', text: 'To heal' },
  { value: 'papers', text: 'Until its papers are here' },
] as const;

/** Each purpose as it goes on in a sentence. */
export const PURPOSE_WORDS: Readonly<Record<string, string>> = {
  observe: 'to be observed',
  pests: 'for pests',
  heal: 'to heal',
  papers: 'until its papers are here',
};
