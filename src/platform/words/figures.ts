/**
 * A figure that several pages, letters and files say of one thing. Wherever it is said it carries its name, so that one
 * name and one subject have one value at any time.
 */
export interface Figure {
  /** "nitrate.production". */
  name: string;
  /** What it is said of: the id of a system, a lot, a place. */
  of: string;
  /** In the canonical unit, or a plan in short. */
  value: number | string;
  /** As it stands in a sentence, word for word: "made 0.36 mg/L a day (0.30 to 0.42)". */
  text: string;
}

/** A part of a text: what stands between figures, or one of them. */
export type FigurePart = { text: string; figure: Figure | null };

/** A text cut at the figures that it says; a figure counts wherever its words stand, the longest first. */
export function figureParts(text: string, figures: readonly Figure[]): FigurePart[] {
  const byLength = figures.filter((one) => one.text !== '').sort((a, b) => b.text.length - a.text.length);
  return byLength.reduce<FigurePart[]>(
    (parts, figure) => parts.flatMap((part) => (part.figure === null ? cut(part.text, figure) : [part])),
    [{ text, figure: null }],
  );
}

function cut(text: string, figure: Figure): FigurePart[] {
  return text
    .split(figure.text)
    .flatMap((between, i) => [
      ...(i === 0 ? [] : [{ text: figure.text, figure }]),
      ...(between === '' ? [] : [{ text: between, figure: null }]),
    ]);
}
