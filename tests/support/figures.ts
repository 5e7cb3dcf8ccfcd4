/** A page's text without the marks of its figures, for tests that read sentences. */
export const withoutMarks = (html: string): string => html.replace(/<data [^>]*>|<\/data>/g, '');

/** A figure as some place says it. */
export interface Said {
  name: string;
  of: string;
  value: string;
  where: string;
}

const mark = /<data value="([^"]*)" data-figure="([^"]*)" data-of="([^"]*)">([^<]*)<\/data>/g;

/** Texts that show one figure as of another moment: what a page keeps from then. */
const kept = /<section class="no-print letter"><h2>As it was made before[\s\S]*?<\/section>/g;

/** The marked figures of a page. */
export const saidInHtml = (html: string, where: string): Said[] =>
  [...html.replace(kept, '').matchAll(mark)].map(([, value = '', name = '', of = '']) => ({
    ...{ name, of, value: value.replaceAll('&lt;', '<').replaceAll('&gt;', '>') },
    where,
  }));

/** The words of the marked figures of a page, as a reader sees them. */
export const wordsOfFigures = (html: string): string[] =>
  [...html.matchAll(mark)].map(([, , , , words = '']) =>
    words.replaceAll('&lt;', '<').replaceAll('&gt;', '>'),
  );

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
const sentences = [
  /settles at [\d.]+/g,
  /\b(?:made|used) [\d.]+ [^.<]*? a day \(/g,
  /[\d.]+ % of the water a week/g,
  /\b[\d,]+ lots? ready/g,
  /\b[\d,]+ things? (?:for today|to act on now)/g,
  /[\d,.]+ L of shared water/g,
  /\bLight now<\/dt><dd>[\d,.]+/g,
  /\bUsed to now<\/dt><dd>[\d,.]+/g,
  /\bLast reading<\/dt><dd>[\d,.]+/g,
];

/** What a page says of figures without marking them. Its history tells of other times. */
export function unmarked(html: string): string[] {
  const text = html.replace(mark, '').replace(/<(ol|ul|table) class="timeline[\s\S]*?<\/\1>/g, '');
  return sentences.flatMap((sentence) => [...text.matchAll(sentence)].map(([words]) => words));
}
