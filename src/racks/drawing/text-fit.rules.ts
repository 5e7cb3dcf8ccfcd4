/** Widths of Atkinson Hyperlegible Next, in parts of the type size, rounded up from its own tables. */
const WIDTHS = {
  bold: [
    [0.33, " .,:;!|'ijl"],
    [0.4, 'ftr-()[]/"'],
    [0.46, '1I'],
    [0.57, '7acksvxyzFJL9×'],
    [0.63, '234568bdeghnopquEPSTZ+'],
    [0.67, '0BCKRVY'],
    [0.73, 'ADGHNUX'],
    [0.79, 'wOQ…≈'],
    [0.92, 'mMW@%'],
  ],
  regular: [
    [0.25, "'.,:;|j"],
    [0.3, ' !il()'],
    [0.35, 'ftr[]"'],
    [0.4, '-/I'],
    [0.5, 'cksvxz1y'],
    [0.55, '7aJL×2ehnou'],
    [0.6, 'F9356bdgpqEPSTVY≈'],
    [0.65, '48Z+0BCKRAX'],
    [0.7, 'DGHNUw…'],
    [0.75, 'OQ'],
    [0.85, 'mM@'],
    [0.95, 'W%'],
  ],
} satisfies Record<string, [width: number, characters: string][]>;

/** The two weights of type in drawings. */
type Weight = keyof typeof WIDTHS;

const widthsOf = (weight: Weight) =>
  new Map(WIDTHS[weight].flatMap(([width, characters]) => [...characters].map((one) => [one, width])));
const widths = { bold: widthsOf('bold'), regular: widthsOf('regular') };
/** Any other character counts as wide as the type size: no letter is wider. */
const WIDEST = 1;

/** Width of a text in the page's typeface, px; rounded up, so a text that fits by this figure fits on the page. */
export function textWidth(text: string, size: number, weight: Weight = 'bold'): number {
  return [...text].reduce((sum, one) => sum + (widths[weight].get(one) ?? WIDEST), 0) * size;
}

/** The text, shortened with an ellipsis until it fits; '' when not even that does. */
export function fitText(text: string, room: number, size: number, weight: Weight = 'bold'): string {
  if (textWidth(text, size, weight) <= room) return text;
  const characters = [...text];
  while (characters.length > 0) {
    characters.pop();
    const shorter = `${characters.join('').trimEnd()}…`;
    if (textWidth(shorter, size, weight) <= room) return characters.length === 0 ? '' : shorter;
  }
  return '';
}

/** A kind's name is set smaller before it is cut. */
const KIND_SIZES = [12, 11, 10.5] as const;

/** A kind's name for a small label: whole, else its first word (the genus), smaller where it must be, else cut. */
export function fitKindName(name: string, room: number): { text: string; size: number } {
  const [largest, , smallest] = KIND_SIZES;
  if (textWidth(name, largest, 'regular') <= room) return { text: name, size: largest };
  const genus = name.split(' ')[0] ?? name;
  const size = KIND_SIZES.find((one) => textWidth(genus, one, 'regular') <= room) ?? smallest;
  return { text: fitText(genus, room, size, 'regular'), size };
}

/** A text over at most two lines, broken between words; each is cut where even its own word has no room. */
export function wrapInTwo(text: string, room: number, size: number): string[] {
  const words = text.split(' ').filter((word) => word !== '');
  let first = words.shift() ?? '';
  while (words[0] !== undefined && textWidth(`${first} ${words[0]}`, size, 'regular') <= room)
    first += ` ${words.shift()}`;
  const lines = [first, words.join(' ')].map((line) => fitText(line, room, size, 'regular'));
  return lines.filter((line) => line !== '');
}
