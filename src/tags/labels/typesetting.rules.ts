/** What stands on a label, in order of weight. */
export interface LabelText {
  code: string;
  name: string;
  /** What the name is worth; '' when it is certain. */
  standing: string;
  /** "Light" and its words, "Flow", "Fed", "Water". */
  lines: { label: string; text: string }[];
  /** The farm and the day. */
  foot: string;
  /** The price of a piece, where it is to stand on the label. */
  price?: string;
  /** How bright it stood, as one of so many steps, and how strong the flow was (0 still to 3); null where it is not known. */
  pictures?: { light: { step: number; of: number } | null; flow: number | null };
  /** True where the farm's own mark goes on it. */
  hasMark?: boolean;
  /** True where the code is read from afar: on lots, slots and racks. It and the QR code then take what room there is. */
  isSign?: boolean;
}

/** Width of a text in the label's face as a multiple of its size. */
export type TextMeasure = (text: string, bold: boolean) => number;

/** A text in its place. x and y are the top left corner of its line, not the baseline; all in points. */
export interface SetText {
  text: string;
  x: number;
  y: number;
  width: number;
  height: number;
  size: number;
  bold: boolean;
}

/** A label with everything placed, in points from its top left corner. */
export interface SetLabel {
  qr: { x: number; y: number; side: number };
  texts: SetText[];
  /** Boxes for the pictures of light and flow, beneath the QR code; null where there is none, or no room. */
  light: PictureBox | null;
  flow: PictureBox | null;
  /** A box for the farm's mark, at the foot of the same column; null where it has none, or no room. */
  mark: PictureBox | null;
  /** What there was no room for. */
  leftOut: string[];
}

/** A picture's place, in points. */
export interface PictureBox {
  x: number;
  y: number;
  width: number;
  height: number;
}

/** Points a millimetre. */
export const POINTS_PER_MM = 72 / 25.4;

/** The smallest type that is read without a glass, points (own choice). */
const smallest = 4.5;
/** Height of a line as a multiple of its type's size (own choice). */
const leading = 1.16;
/** The smallest QR code that a phone reads from about 10 cm, mm (own choice; the labels' test reads one back). */
const smallestQrMm = 11;

interface Room {
  x: number;
  y: number;
  width: number;
  bottom: number;
}

/**
 * Sets a label of the given size: the QR code on the right, the name large (on up to two lines) and the code, on a sign the
 * code before the name, then the lines of
 * the record in one size, and the foot, as large as fits between the largest and the smallest legible size. What has no room
 * is left out from the end; nothing overlaps and nothing stands outside.
 * @throws RangeError when the label is too small for its code and its QR code
 */
export function setLabel(
  label: LabelText,
  widthMm: number,
  heightMm: number,
  measure: TextMeasure,
): SetLabel {
  const [width, height] = [widthMm * POINTS_PER_MM, heightMm * POINTS_PER_MM];
  const margin = Math.max(1.5 * POINTS_PER_MM, Math.min(width, height) * 0.05);
  const side = label.isSign
    ? signSide(Math.min(height - 2 * margin, width * 0.42, 90 * POINTS_PER_MM), label, height - 2 * margin)
    : Math.min(height - 2 * margin, width * 0.34, 26 * POINTS_PER_MM);
  if (side < smallestQrMm * POINTS_PER_MM)
    throw new RangeError(
      `a label of ${widthMm} x ${heightMm} mm has no room for a QR code of ${smallestQrMm} mm`,
    );
  const qr = { x: width - margin - side, y: margin, side };
  const setter = new Setter(measure, {
    x: margin,
    y: margin,
    width: qr.x - margin - margin / 2,
    bottom: height - margin,
  });
  const scale = Math.min(1.4, Math.max(0.6, height / (37 * POINTS_PER_MM)));
  // Shares of the height (own choice): a sign's code is read from some metres, its name from an arm's length.
  const sizes = label.isSign
    ? { code: height * 0.36, name: height * 0.15, lines: height * 0.11 }
    : { code: 9 * scale, name: 13 * scale, lines: 7 * scale };
  if (label.isSign) {
    setter.line(label.code, sizes.code, true, 'the code');
    setter.lines(label.name, sizes.name, true, 2);
  } else {
    setter.lines(label.name, sizes.name, true, 2);
    setter.line(label.code, sizes.code, true, 'the code');
  }
  setter.line(label.price ?? '', sizes.code * 1.2, true, 'the price');
  const standing = { text: label.standing, what: 'what the name is worth' };
  const lines = label.lines.map(({ label: head, text }) => ({
    text: `${head}: ${text}`,
    what: head.toLowerCase(),
  }));
  const foot = 5.5 * scale;
  setter.together(
    [standing, ...lines],
    sizes.lines,
    label.foot === '' ? 0 : Math.max(smallest, foot) * leading,
  );
  setter.line(label.foot, foot, false, 'the foot');
  const column = { x: qr.x, y: qr.y + side, width: side, bottom: height - margin };
  const mark = label.hasMark ? markBox(column, label.pictures !== undefined) : null;
  const pictures = pictureBoxes(label, mark === null ? column : { ...column, bottom: mark.y });
  const leftOut = label.hasMark && mark === null ? [...setter.leftOut, 'the mark'] : setter.leftOut;
  return { qr, texts: setter.texts, ...pictures, mark, leftOut };
}

/** The QR code of a sign leaves room for the farm's mark beneath it, unless it would become too small for that. Points */
function signSide(side: number, { hasMark }: LabelText, free: number): number {
  const beside = free - (signMarkMm.mark + signMarkMm.gap) * POINTS_PER_MM;
  return hasMark && beside >= signMarkMm.leastQr * POINTS_PER_MM ? Math.min(side, beside) : side;
}

/** On a sign: the mark's height, the gap above it, and the QR code beneath which there is no mark (own choice). mm */
const signMarkMm = { mark: 6, gap: 1, leastQr: 18 };

/** The farm's mark takes the foot of the QR code's column: all of it, or half where pictures of light and flow stand above. */
function markBox(column: Room, isShared: boolean): PictureBox | null {
  const gap = 0.8 * POINTS_PER_MM;
  const free = column.bottom - column.y - gap;
  const height = Math.min(markMm.most * POINTS_PER_MM, isShared ? (free - gap) / 2 : free);
  if (height < markMm.least * POINTS_PER_MM) return null;
  return { x: column.x, y: column.bottom - height, width: column.width, height };
}

/** Pictures are between so high; smaller ones are left out, their words stay (own choice). mm */
const pictureMm = { least: 3.5, most: 8 };
/** The farm's mark on a label is between so high (own choice). mm */
const markMm = { least: 3.5, most: 12 };

/** Light and flow side by side beneath the QR code, where its column has room for them. */
function pictureBoxes({ pictures }: LabelText, room: Room): Pick<SetLabel, 'light' | 'flow'> {
  const gap = 0.8 * POINTS_PER_MM;
  const height = Math.min(pictureMm.most * POINTS_PER_MM, room.bottom - room.y - gap);
  if (pictures === undefined || height < pictureMm.least * POINTS_PER_MM) return { light: null, flow: null };
  const inset = room.width * 0.08;
  const width = (room.width - 2 * inset - 3 * gap) / 2;
  const box = { y: room.y + gap, width, height };
  return {
    light: pictures.light === null ? null : { ...box, x: room.x + inset },
    flow: pictures.flow === null ? null : { ...box, x: room.x + room.width - inset - width },
  };
}

/** Puts one text below the other until there is no room left. */
class Setter {
  readonly texts: SetText[] = [];
  readonly leftOut: string[] = [];
  readonly #measure: TextMeasure;
  readonly #room: Room;

  constructor(measure: TextMeasure, room: Room) {
    this.#measure = measure;
    this.#room = room;
  }

  /** One line, smaller where it is long, cut at a word where it is too long even so. */
  line(text: string, largest: number, bold: boolean, what: string): void {
    if (text === '') return;
    const size = this.#fitting(text, Math.max(smallest, largest), bold);
    if (!this.#put(this.#cut(text, size, bold), size, bold)) this.leftOut.push(what);
  }

  /** Up to `most` lines of one size. */
  lines(text: string, largest: number, bold: boolean, most: number): void {
    const broken = this.#broken(text, largest, bold, most);
    for (const { text: line, size } of broken) {
      if (!this.#put(line, size, bold)) this.leftOut.push('the name');
    }
  }

  /**
   * Several texts in one size, each on up to three lines where there is room for them above what is kept free `below`:
   * else the first ones get a second line first, and what is too long even so is cut.
   */
  together(texts: readonly { text: string; what: string }[], largest: number, below: number): void {
    const [most, said] = [3, texts.filter(({ text }) => text !== '')];
    const free = this.#room.bottom - this.#room.y - below + 0.01;
    for (let size = largest; size >= smallest; size -= 0.25) {
      const wrapped = said.map(
        ({ text }) => this.#wrapped(text, size, false) ?? Array<string>(most + 1).fill(text),
      );
      if (wrapped.some((lines) => lines.length > most) || wrapped.flat().length * size * leading > free)
        continue;
      for (const line of wrapped.flat()) this.#put(line, size, false);
      return;
    }
    let second = Math.floor(free / (smallest * leading)) - said.length;
    for (const { text, what } of said) {
      const lines = this.#broken(text, smallest, false, second > 0 ? 2 : 1);
      second -= lines.length - 1;
      for (const { text: line } of lines) if (!this.#put(line, smallest, false)) this.leftOut.push(what);
    }
  }

  #width(text: string, size: number, bold: boolean): number {
    return this.#measure(text, bold) * size;
  }

  #broken(text: string, largest: number, bold: boolean, most: number): { text: string; size: number }[] {
    for (let size = largest; size >= smallest; size -= 0.25) {
      const lines = this.#wrapped(text, size, bold);
      if (lines !== null && lines.length <= most) return lines.map((line) => ({ text: line, size }));
    }
    const lines = this.#wrapped(text, smallest, bold) ?? [text];
    const last = lines.slice(most - 1).join(' ');
    const shown = [...lines.slice(0, most - 1), this.#cut(last, smallest, bold)];
    return shown.map((line) => ({ text: line, size: smallest }));
  }

  /** Words in lines that fit; null where a single word does not. */
  #wrapped(text: string, size: number, bold: boolean): string[] | null {
    const lines: string[] = [];
    for (const word of text.split(/\s+/)) {
      if (this.#width(word, size, bold) > this.#room.width) return null;
      const longer = lines.length === 0 ? word : `${lines.at(-1)} ${word}`;
      if (lines.length > 0 && this.#width(longer, size, bold) <= this.#room.width)
        lines[lines.length - 1] = longer;
      else lines.push(word);
    }
    return lines;
  }

  #fitting(text: string, largest: number, bold: boolean): number {
    const width = this.#width(text, largest, bold);
    return width <= this.#room.width
      ? largest
      : Math.max(smallest, (largest * this.#room.width) / width - 0.01);
  }

  /** The text, or as much of it as fits before three dots. */
  #cut(text: string, size: number, bold: boolean): string {
    if (this.#width(text, size, bold) <= this.#room.width) return text;
    const cut = (length: number) => `${text.slice(0, length).replace(/[\s,;:·-]+$/, '')}…`;
    let [fits, tooLong] = [0, text.length];
    while (tooLong - fits > 1) {
      const middle = Math.floor((fits + tooLong) / 2);
      if (this.#width(cut(middle), size, bold) <= this.#room.width) fits = middle;
      else tooLong = middle;
    }
    return cut(fits);
  }

  #put(text: string, size: number, bold: boolean): boolean {
    const height = size * leading;
    if (this.#room.y + height > this.#room.bottom + 0.01) return false;
    const { x, y } = this.#room;
    this.texts.push({ text, x, y, width: this.#width(text, size, bold), height, size, bold });
    this.#room.y += height;
    return true;
  }
}
