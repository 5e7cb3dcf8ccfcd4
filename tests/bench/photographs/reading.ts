import sharp from 'sharp';
import type { HeightShare } from '../../../src/science/photograph/height.ts';
import type { Picture } from '../../../src/science/photograph/image.ts';
import { type RackReading, readRack } from '../../../src/science/photograph/reading/read.ts';
import type { NotRead } from '../../../src/science/photograph/reading/reasons.ts';
import type { LotFace, RackToRead } from '../../../src/science/photograph/straight-rack.ts';
import { findCodes } from '../../../src/stock/rack-photographs/codes.ts';
import { type CardPicture, photograph, printCards, type Shot } from '../../support/photographs/render.ts';
import type { Coral, Form, Scene } from '../../support/photographs/scene.ts';

/** How high each form grows against its width, as the service would say of its kind. */
const heights: Readonly<Record<Form, HeightShare>> = {
  crust: { low: 0.03, high: 0.3 },
  disc: { low: 0.03, high: 0.3 },
  plate: { low: 0.1, high: 0.7 },
  dome: { low: 0.1, high: 0.6 },
  maze: { low: 0.1, high: 0.6 },
  honeycomb: { low: 0.05, high: 0.6 },
  lobes: { low: 0.1, high: 0.6 },
  branches: { low: 0.4, high: 1 },
  fingers: { low: 0.4, high: 1 },
  toadstool: { low: 0.3, high: 0.9 },
};
export const rackOf = (scene: Scene): RackToRead => ({
  ...{ id: scene.rackId, rows: scene.rows, columns: scene.columns },
  lots: scene.corals.map(({ id, slots, form }) => ({ id, slots, height: heights[form] })),
});

async function pictureOf(jpeg: Buffer): Promise<Picture> {
  const { data, info } = await sharp(jpeg).removeAlpha().raw().toBuffer({ resolveWithObject: true });
  return { width: info.width, height: info.height, rgb: data };
}

/** Photographs a rack and reads it. */
export async function take(
  scene: Scene,
  shot: Shot,
  cards?: readonly CardPicture[],
): Promise<RackReading | NotRead> {
  const { jpeg, focal } = await photograph(scene, cards ?? (await printCards(scene.rackId)), shot);
  const picture = await pictureOf(jpeg);
  return readRack(picture, await findCodes(picture), rackOf(scene), focal);
}

/** Whether a lot was found where another stands: the middle of its outline is nearer to another coral's middle than to its own. */
export function isElsewhere({ id, measured }: LotFace, scene: Scene): boolean {
  if ('why' in measured) return false;
  const points = measured.outlines.flat();
  const x = points.reduce((sum, point) => sum + point.x, 0) / points.length;
  const y = points.reduce((sum, point) => sum + point.y, 0) / points.length;
  const far = ({ slots }: Coral) => {
    const mean = (of: (slot: Coral['slots'][number]) => number) =>
      slots.reduce((sum, slot) => sum + of(slot) + 0.5, 0) / slots.length;
    return Math.hypot(
      x - mean(({ column }) => column) * scene.pitchX,
      y - mean(({ row }) => row) * scene.pitchY,
    );
  };
  const nearest = scene.corals.reduce((best, coral) => (far(coral) < far(best) ? coral : best));
  return nearest.id !== id;
}
