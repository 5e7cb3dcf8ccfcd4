/** Widths of Atkinson Hyperlegible Next at its boldest, in parts of the type size, rounded up from its own tables. */
const WIDTHS: readonly (readonly [width: number, characters: string])[] = [
  [0.33, " .,:;!|'ijl"],
  [0.4, 'ftr-()[]/"'],
  [0.46, '1I'],
  [0.57, '7acksvxyzFJL9×'],
  [0.63, '234568bdeghnopquEPSTZ+'],
  [0.67, '0BCKRVY'],
  [0.73, 'ADGHNUX'],
  [0.79, 'wOQ…≈'],
  [0.92, 'mMW@%'],
];
const widths = new Map(
  WIDTHS.flatMap(([width, characters]) => [...characters].map((one) => [one, width] as const)),
);
/** Any other character: as wide as it is high, which no letter exceeds. */
const WIDEST = 1;

/** Never less than the width a text takes in the page's face, in px at this type size. */
export function textWidth(text: string, size: number): number {
  return [...text].reduce((sum, character) => sum + (widths.get(character) ?? WIDEST), 0) * size;
}

/** The text, shortened with an ellipsis until it fits; '' when not even that does. */
export function fitted(text: string, room: number, size: number): string {
  if (textWidth(text, size) <= room) return text;
  const characters = [...text];
  while (characters.length > 0) {
    characters.pop();
    const shorter = `${characters.join('').trimEnd()}…`;
    if (textWidth(shorter, size) <= room) return characters.length === 0 ? '' : shorter;
  }
  return '';
}

/** A kind's name for a small label: whole, else its first word (the genus), else as much of it as fits. */
export function shortKind(name: string, room: number, size: number): string {
  if (textWidth(name, size) <= room) return name;
  return fitted(name.split(' ')[0] ?? name, room, size);
}
