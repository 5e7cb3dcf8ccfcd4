/** A word that a newcomer does not know, or that people of the trade use in more than one way. */
export interface Term {
  /** What links name: /glossary#dkh. Small letters and hyphens. */
  key: string;
  name: string;
  /** Two or three short sentences. */
  text: string;
  /** How others use the word, where the trade does not agree. */
  otherwise?: string;
  /** Where a published definition or figure comes from. */
  source?: string;
}
