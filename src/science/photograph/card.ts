/** A box on a card: its upper left corner, width and height, mm. */
export interface CardBox {
  x: number;
  y: number;
  width: number;
  height: number;
}

/** A place on a plane, in mm or in px. */
export interface Point {
  x: number;
  y: number;
}

/** Which corner of a rack a card marks, as seen by somebody who stands in front of it. */
export const CORNERS = ['back-left', 'back-right', 'front-left', 'front-right'] as const;
export type Corner = (typeof CORNERS)[number];

/**
 * The card that marks a corner of a rack, mm (own drawing). A black frame surrounds its code, so that its corners are found
 * finer than the code alone tells; beside it are patches of known reflectance and a scale.
 */
export const CARD = {
  width: 68,
  height: 50,
  frame: { x: 2, y: 2, width: 42, height: 42 },
  /** How thick the frame is. */
  line: 2,
  /** The code with its quiet zone, within the frame. */
  code: { x: 4, y: 4, width: 38, height: 38 },
  patches: {
    white: { x: 46, y: 2, width: 20, height: 12 },
    grey: { x: 46, y: 15, width: 20, height: 12 },
    black: { x: 46, y: 28, width: 20, height: 12 },
  },
  scale: { x: 46, y: 41, width: 20, height: 3 },
  text: { x: 2, y: 45, width: 64, height: 4 },
} as const satisfies Record<string, CardBox | number | Record<string, CardBox>>;

/**
 * How much light a patch gives back, against the white of the paper. Black toner on paper gives back some 4 % (from memory,
 * common practice); the grey is printed as half of sRGB, whose linear light is 0.214 (IEC 61966-2-1), between that black
 * and the white.
 */
export const REFLECTANCE = { white: 1, grey: 0.04 + 0.96 * 0.214, black: 0.04 } as const;

/** A frame's corners on its card, mm, clockwise from the upper left. */
export const frameCorners = (inset = 0): Point[] => {
  const { x, y, width, height } = CARD.frame;
  return [
    { x: x + inset, y: y + inset },
    { x: x + width - inset, y: y + inset },
    { x: x + width - inset, y: y + height - inset },
    { x: x + inset, y: y + height - inset },
  ];
};

/**
 * Where a card's upper left corner lies on its rack, mm from the rack's back left corner, to the right and to the front. A
 * card lies beside the rack and touches it: level with the back edge of its first row, or with the front edge of its last.
 */
export function cardPlace(corner: Corner, rack: { width: number; depth: number }): Point {
  return {
    x: corner.endsWith('left') ? -CARD.width : rack.width,
    y: corner.startsWith('back') ? 0 : rack.depth - CARD.height,
  };
}

/** Where the cards lie beside a rack, with a mm around them: nothing of a lot is looked for there. */
export const cardBoxes = (rack: { width: number; depth: number }): CardBox[] =>
  CORNERS.map((corner) => {
    const { x, y } = cardPlace(corner, rack);
    return { x: x - 1, y: y - 1, width: CARD.width + 2, height: CARD.height + 2 };
  });

/** The least depth of a rack at whose sides two cards have room, mm. */
export const LEAST_RACK_DEPTH = 2 * CARD.height;

/**
 * What the code of a card says after the service's own address: short and in capitals, so that its squares are large
 * (ISO/IEC 18004, alphanumeric mode).
 * @param rackId a UUID
 */
export const cardPath = (rackId: string, corner: Corner): string =>
  `/C/${BigInt(`0x${rackId.replaceAll('-', '')}`)
    .toString(36)
    .toUpperCase()
    .padStart(25, '0')}/${CORNERS.indexOf(corner) + 1}`;

/** The rack and corner that a code names, whatever the service's address was when it was printed; null where it is no card. */
export function cardOf(text: string): { rackId: string; corner: Corner } | null {
  const found = /\/C\/([0-9A-Z]{25})\/([1-4])$/i.exec(text);
  if (found === null) return null;
  const [, key = '', number = ''] = found;
  const value = [...key.toUpperCase()].reduce(
    (sum, sign) => sum * 36n + BigInt(Number.parseInt(sign, 36)),
    0n,
  );
  const hex = value.toString(16).padStart(32, '0');
  const corner = CORNERS[Number(number) - 1];
  if (hex.length > 32 || corner === undefined) return null;
  return { rackId: hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, '$1-$2-$3-$4-$5'), corner };
}
