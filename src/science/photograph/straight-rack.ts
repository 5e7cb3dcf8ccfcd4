import type { CardBox, Point } from './card.ts';
import type { Evened } from './evenness.ts';
import type { CameraPlace, HeightShare, PlanarArea } from './height.ts';
import type { Plane } from './plane.ts';

/** The rack that a photograph should show, with the lots that stood on it then. Rows count from the back, from 0. */
export interface RackToRead {
  id: string;
  rows: number;
  columns: number;
  lots: readonly LotToRead[];
}

export interface LotToRead {
  id: string;
  slots: readonly { row: number; column: number }[];
  /** How high its kind grows. */
  height: HeightShare;
}

/** What a photograph tells of one lot. */
export interface LotFace {
  id: string;
  /** The part of the rack that shows it, mm. */
  box: CardBox;
  /** Its colour and size; why there is none otherwise. */
  measured: Measured | { why: LeftOut };
}

/** Why a lot is not measured. */
export type LeftOut = 'glare' | 'not told from the base' | 'beyond the picture';

export interface Measured {
  /** L*a*b* against the white of the cards, and the standard uncertainty of L*. */
  whiteness: { L: number; a: number; b: number; uncertainty: number };
  /** What it covers, mm2, height taken out as far as the camera's place is known. */
  area: PlanarArea;
  /** mm on the rack. */
  outlines: Point[][];
  /** Lots whose outline it touches. */
  touches: string[];
}

/** All that is needed to read the lots of a straightened rack. */
export interface StraightRack {
  even: Evened;
  clipped: Uint8Array;
  box: CardBox;
  pxPerMm: number;
  plane: Plane;
  rack: RackToRead;
  camera: CameraPlace | null;
}

/** The least area of a part of a coral, mm2 (own choice). */
export const LEAST_PART = 20;

/** To which slot each px belongs: row x columns + column; -1 beyond the rack. */
export interface Cells {
  of: Int32Array;
  /** The lot in each slot; null where it is empty. */
  lots: (string | null)[];
}

/** The slot and the lot of each px. */
export function cellsOf({ even, box, pxPerMm, plane, rack }: StraightRack): Cells {
  const of = new Int32Array(even.width * even.height).fill(-1);
  const [high, wide] = [plane.depth / rack.rows, plane.width / rack.columns];
  for (let y = 0; y < even.height; y++) {
    const row = Math.floor((box.y + (y + 0.5) / pxPerMm) / high);
    if (row < 0 || row >= rack.rows) continue;
    for (let x = 0; x < even.width; x++) {
      const column = Math.floor((box.x + (x + 0.5) / pxPerMm) / wide);
      if (column >= 0 && column < rack.columns) of[y * even.width + x] = row * rack.columns + column;
    }
  }
  const lots: (string | null)[] = Array.from({ length: rack.rows * rack.columns }, () => null);
  for (const { id, slots } of rack.lots)
    for (const { row, column } of slots) lots[row * rack.columns + column] = id;
  return { of, lots };
}
