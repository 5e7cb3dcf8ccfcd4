/** A page's text without the marks of its figures, for tests that read sentences. */
export const withoutMarks = (html: string): string => html.replace(/<data [^>]*>|<\/data>/g, '');

/** A figure as some place says it. */
export interface Said {
  name: string;
  of: string;
  value: string;
  where: string;
}

const mark = /<data value="([^"]*)" data-figure="([^"]*)" data-of="([^"]*)">[^<]*<\/data>/g;

/** The marked figures of a page. */
export const saidInHtml = (html: string, where: string): Said[] =>
  [...html.matchAll(mark)].map(([, value = '', name = '', of = '']) => ({ name, of, value, where }));

/** The figures in an answer of JSON: objects with a name, what it is said of, and a value. */
export function saidInJson(json: unknown, where: string): Said[] {
  if (Array.isArray(json)) return json.flatMap((one) => saidInJson(one, where));
  if (typeof json !== 'object' || json === null) return [];
  const { name, of, value } = json as Record<string, unknown>;
  if (typeof name === 'string' && typeof of === 'string' && value !== undefined)
    return [{ name, of, value: String(value), where }];
  return Object.values(json).flatMap((one) => saidInJson(one, where));
}

/** Figures that are said with more than one value, with the places that say each. */
export function twice(said: readonly Said[]): string[] {
  const byFigure = Map.groupBy(said, ({ name, of }) => `${name} of ${of}`);
  return [...byFigure].flatMap(([figure, all]) => {
    const values = Map.groupBy(all, ({ value }) => value);
    if (values.size < 2) return [];
    return [
      `${figure}: ${[...values].map(([value, places]) => `${value} in ${places[0]?.where}`).join('; ')}`,
    ];
  });
}

/** Sentences that say a figure: where they stand, its mark has to stand. */
const sentences = [/tends to [\d.]+/g, /\bmade [\d.]+ [^.]*? a day/g, /[\d.]+ % of the water a week/g];

/** What a page says of figures without marking them. Its history tells of other times. */
export function unmarked(html: string): string[] {
  const text = html.replace(mark, '').replace(/<(ol|ul|table) class="timeline[\s\S]*?<\/\1>/g, '');
  return sentences.flatMap((sentence) => [...text.matchAll(sentence)].map(([words]) => words));
}
