import type { Random } from '../../../src/science/statistics/random.ts';

/** Ten ways in which corals are built, as the renderer draws them. */
export const FORMS = [
  'crust',
  'plate',
  'dome',
  'maze',
  'honeycomb',
  'lobes',
  'disc',
  'branches',
  'fingers',
  'toadstool',
] as const;
export type Form = (typeof FORMS)[number];

/** A round part of a coral: where it stands on the rack, how wide and high it is (mm), and its outline upwards. */
export interface Blob {
  x: number;
  y: number;
  radius: number;
  height: number;
  profile: 'flat' | 'dome' | 'cap' | 'stem';
  coral: number;
}

export interface Coral {
  id: string;
  form: Form;
  slots: { row: number; column: number }[];
  /** L*, a*, b* of its surface against paper white. */
  colour: [number, number, number];
  /** What it covers seen straight from above, mm2. */
  area: number;
}

export interface Scene {
  rackId: string;
  rows: number;
  columns: number;
  pitchX: number;
  pitchY: number;
  base: 'egg_crate' | 'rock' | 'sand';
  corals: Coral[];
  blobs: Blob[];
  /** How each card was fixed by hand: moved (mm) and turned (radians). */
  cards: { dx: number; dy: number; turn: number }[];
}

const between = (random: Random, low: number, high: number) => low + (high - low) * random.uniform();

/** A rack with corals on some of its slots. */
export function makeScene(
  random: Random,
  given: Partial<Pick<Scene, 'rows' | 'columns' | 'base' | 'rackId'>> & {
    filled?: number;
    forms?: readonly Form[];
    /** Exactly these slots have a coral each. */
    places?: readonly { row: number; column: number }[];
  } = {},
): Scene {
  const rows = given.rows ?? 4 + random.below(9);
  const columns = given.columns ?? 8 + random.below(13);
  const [pitchX, pitchY] = [between(random, 28, 42), between(random, 28, 42)];
  const scene: Scene = {
    ...{ rackId: given.rackId ?? rackIdOf(random), rows, columns, pitchX, pitchY },
    base: given.base ?? (['egg_crate', 'egg_crate', 'rock', 'sand'] as const)[random.below(4)] ?? 'egg_crate',
    corals: [],
    blobs: [],
    cards: Array.from({ length: 4 }, () => ({
      dx: between(random, -1, 1),
      dy: between(random, -1, 1),
      turn: between(random, -0.015, 0.015),
    })),
  };
  const filled = given.filled ?? between(random, 0.4, 0.85);
  for (let row = 0; row < rows; row++)
    for (let column = 0; column < columns; column++) {
      const isGiven = given.places?.some((place) => place.row === row && place.column === column);
      if (isGiven === false || (isGiven !== true && random.uniform() > filled) || isTaken(scene, row, column))
        continue;
      const isWide =
        isGiven !== true &&
        random.uniform() < 0.08 &&
        column + 1 < columns &&
        !isTaken(scene, row, column + 1);
      const slots = [{ row, column }, ...(isWide ? [{ row, column: column + 1 }] : [])];
      const forms = given.forms ?? FORMS;
      plant(scene, random, slots, forms[random.below(forms.length)] as Form);
    }
  return scene;
}

const isTaken = ({ corals }: Scene, row: number, column: number) =>
  corals.some(({ slots }) => slots.some((slot) => slot.row === row && slot.column === column));

export function rackIdOf(random: Random): string {
  const hex = Array.from({ length: 32 }, () => random.below(16).toString(16)).join('');
  return hex.replace(/^(.{8})(.{4}).(.{3}).(.{3})(.{12})$/, '$1-$2-7$3-8$4-$5');
}

function plant(scene: Scene, random: Random, slots: Coral['slots'], form: Form): void {
  const number = scene.corals.length;
  const [first] = slots;
  const x = (slots.reduce((sum, { column }) => sum + column + 0.5, 0) / slots.length) * scene.pitchX;
  const y = ((first?.row ?? 0) + 0.5) * scene.pitchY;
  const size = Math.min(scene.pitchX * slots.length, scene.pitchY) * between(random, 0.26, 0.46);
  const own = blobsOf(random, form, size, slots.length).map((blob) => ({
    ...blob,
    ...{ x: x + blob.x + between(random, -1.5, 1.5) * 0.3, y: y + blob.y, coral: number },
  }));
  scene.blobs.push(...own);
  const hue = between(random, 0, 2 * Math.PI);
  const chroma = between(random, 14, 40);
  scene.corals.push({
    ...{ id: `lot-${number}`, form, slots },
    colour: [between(random, 28, 66), chroma * Math.cos(hue), chroma * Math.sin(hue)],
    area: areaOf(own),
  });
}

type Shape = Omit<Blob, 'coral'>;

function blobsOf(random: Random, form: Form, size: number, wide: number): Shape[] {
  const ring = (
    count: number,
    far: number,
    radius: number,
    height: number,
    profile: Blob['profile'],
  ): Shape[] =>
    Array.from({ length: count }, (_, i) => {
      const angle = (2 * Math.PI * i) / count + between(random, -0.3, 0.3);
      const out = far * between(random, 0.75, 1.1);
      return {
        ...{ x: out * Math.cos(angle) * wide, y: out * Math.sin(angle), profile },
        ...{ radius: radius * between(random, 0.8, 1.15), height: height * between(random, 0.8, 1.2) },
      };
    });
  const middle = (radius: number, height: number, profile: Blob['profile']): Shape[] =>
    wide === 1
      ? [{ x: 0, y: 0, radius, height, profile }]
      : [-1, 0, 1].map((side) => ({ x: side * radius * 0.9, y: 0, radius, height, profile }));
  switch (form) {
    case 'crust':
      return [...middle(size * 0.8, 3, 'flat'), ...ring(6, size * 0.6, size * 0.4, 3, 'flat')];
    case 'plate':
      return [...middle(size * 0.85, 10, 'flat'), ...ring(5, size * 0.6, size * 0.45, 12, 'cap')];
    case 'dome':
      return middle(size, size * 0.8, 'dome');
    case 'maze':
      return [
        ...middle(size * 0.85, size * 0.6, 'dome'),
        ...ring(5, size * 0.55, size * 0.42, size * 0.5, 'dome'),
      ];
    case 'honeycomb':
      return middle(size * 0.95, size * 0.6, 'dome');
    case 'lobes':
      return ring(5, size * 0.5, size * 0.5, size * 0.9, 'dome').concat(
        middle(size * 0.5, size * 0.5, 'dome'),
      );
    case 'disc':
      return middle(size * 0.9, 4, 'flat');
    case 'branches':
      return [...middle(size * 0.55, 8, 'flat'), ...ring(9, size * 0.62, size * 0.2, size * 1.4, 'stem')];
    case 'fingers':
      return [...middle(size * 0.5, 8, 'flat'), ...ring(6, size * 0.5, size * 0.28, size * 1.1, 'stem')];
    case 'toadstool':
      return [...middle(size * 0.9, size * 0.9, 'cap')];
  }
}

/** How wide a part is at a share of its height, against its radius. */
export function widthAt(profile: Blob['profile'], share: number): number {
  if (profile === 'dome') return Math.sqrt(Math.max(0, 1 - share * share));
  if (profile === 'cap') return share > 0.7 ? 1 : 0.45;
  if (profile === 'stem') return 1 - 0.25 * share;
  return share > 0.6 ? 0.97 : 1;
}

function areaOf(blobs: readonly Blob[]): number {
  const step = 0.25;
  const [left, right] = [
    Math.min(...blobs.map((b) => b.x - b.radius)),
    Math.max(...blobs.map((b) => b.x + b.radius)),
  ];
  const [top, low] = [
    Math.min(...blobs.map((b) => b.y - b.radius)),
    Math.max(...blobs.map((b) => b.y + b.radius)),
  ];
  let count = 0;
  for (let y = top; y < low; y += step)
    for (let x = left; x < right; x += step)
      if (blobs.some((blob) => (x - blob.x) ** 2 + (y - blob.y) ** 2 < blob.radius ** 2)) count++;
  return count * step * step;
}
