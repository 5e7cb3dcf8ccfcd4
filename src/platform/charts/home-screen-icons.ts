import { imageLibrary } from '../workers/images.ts';

/** The ground of the mark, as in favicon.svg. */
const paper = '#f4f0e6';

/** The icon's files, by name, with the pixels of a side. The one to be cut to a shape keeps its mark within the middle. */
const files = [
  { name: 'icon-192.png', side: 192, mark: 192 },
  { name: 'icon-512.png', side: 512, mark: 512 },
  { name: 'icon-cut-512.png', side: 512, mark: 340 },
] as const;

/**
 * The mark as PNG files for the home screen of a tablet: a platform that cuts icons keeps a circle of 80 % of the side
 * (W3C Web Application Manifest, "maskable"), and the mark's frame is 26 of 32 units wide, so at 340 px its corners are 195 px from the middle, of 204 allowed.
 * @param mark favicon.svg
 */
export async function homeScreenIcons(mark: Buffer): Promise<Map<string, Buffer>> {
  const sharp = await imageLibrary();
  const drawn = files.map(async ({ name, side, mark: width }) => {
    const edge = (side - width) / 2;
    const around = { top: edge, bottom: edge, left: edge, right: edge, background: paper };
    const picture = await sharp(mark, { density: 72 * (width / 32) })
      .resize(width, width)
      .flatten({ background: paper })
      .toBuffer();
    return [name, await sharp(picture).extend(around).png().toBuffer()] as const;
  });
  return new Map(await Promise.all(drawn));
}
