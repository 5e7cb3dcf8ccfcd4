import type { GrowthForm } from '../../generated/prisma/enums.ts';

/** What a lot is drawn with: its newest photo, or else the shape its kind grows in (view `lot_face`). */
export interface Face {
  photoId: string | null;
  /** Null where nobody has said how its kind grows: a bare plug is drawn. */
  growthForm: GrowthForm | null;
}

/** Growth forms in the words of the trade, for choosing one. */
export const growthFormWords: Readonly<Record<GrowthForm, string>> = {
  branching: 'Branches',
  fingers: 'Fingers',
  plates: 'Plates',
  maze: 'Mazes and valleys',
  honeycomb: 'Round cups, close together',
  lobed: 'Folded flesh',
  disc: 'A disc',
  tentacles: 'Long tentacles',
  toadstool: 'A toadstool',
  polyps: 'Polyps side by side',
};
