const entities: Readonly<Record<string, string>> = {
  '&': '&amp;',
  '<': '&lt;',
  '>': '&gt;',
  '"': '&quot;',
  "'": '&#39;',
};

/** Text as it may stand in an element or a quoted attribute of an svg. */
export function escapeMarkup(text: string): string {
  return text.replace(/[&<>"']/g, (character) => entities[character] ?? character);
}

/** A coordinate to a tenth of a pixel: finer only makes the page heavier. */
export function px(value: number): number {
  return Math.round(value * 10) / 10;
}
