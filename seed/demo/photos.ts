import { readFileSync } from 'node:fs';
import { Resvg } from '@resvg/resvg-js';
import sharp from 'sharp';
import { uuidv7 } from 'uuidv7';
import type { GrowthForm } from '../../src/generated/prisma/enums.ts';
import type { Service } from '../../src/platform/service.ts';
import { dayMs, hourMs } from '../../src/science/numeric/time.ts';
import { type Random, seededRandom } from '../../src/science/statistics/random.ts';

/** Pixels of a side; the small one is what lists show. */
const side = { image: 440, small: 200 };
/** Of the lots that look well, how many have been photographed. */
const photographed = 0.5;

/** Colours of corals as hue (degrees) and strength (%), invented. */
const colours = [
  [285, 38],
  [150, 42],
  [24, 62],
  [338, 46],
  [182, 44],
  [46, 66],
  [215, 45],
  [96, 40],
] as const;

interface Subject {
  lotId: string;
  form: GrowthForm | null;
  accountId: string;
  /** When it first looked pale; null where it never did. */
  paleAt: Date | null;
  arrivedAt: Date;
}

const query = `
  SELECT face.lot_id AS "lotId", face.growth_form AS form, lot.arrived_at AS "arrivedAt",
         (SELECT min(at) FROM condition WHERE lot_id = lot.id AND state = 'paling') AS "paleAt",
         (SELECT id FROM account WHERE role = 'hand' ORDER BY created_at LIMIT 1) AS "accountId"
    FROM lot_face AS face JOIN lot ON lot.id = face.lot_id WHERE lot.pieces > 0 ORDER BY lot.code`;

const drawings = readFileSync(new URL('../../views/assets/growth-forms.svg', import.meta.url), 'utf8');

function drawingOf(form: string): string {
  return drawings.match(new RegExp(`<symbol id="${form}"[^>]*>(.*?)</symbol>`))?.[1] ?? '';
}

/** A coral on egg crate under blue light, painted: the demo's stand-in for a photograph. */
function painted(
  form: GrowthForm | null,
  hue: number,
  strength: number,
  pale: boolean,
  random: Random,
): string {
  const [vivid, light] = pale ? [strength * 0.25, 78] : [strength, 56];
  const flesh = `hsl(${hue}, ${vivid}%, ${light}%)`;
  const edge = `hsl(${hue}, ${vivid * 0.9}%, ${light * 0.42}%)`;
  const coral = drawingOf(form ?? 'plug')
    .replaceAll('currentColor', edge)
    .replaceAll(/var\(--plate, [^)]*\)/g, flesh);
  const turn = (random.uniform() - 0.5) * 24;
  const size = 0.72 + random.uniform() * 0.22;
  const [x, y] = [50 + (random.uniform() - 0.5) * 8, 51 + (random.uniform() - 0.5) * 6];
  const crate = Array.from({ length: 9 }, (_, i) => `M${i * 12.5 + 3} 0V100M0 ${i * 12.5 + 3}H100`).join('');
  const place = `translate(${x} ${y}) rotate(${turn}) scale(${size}) translate(-50 -50)`;
  return `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 100" width="${side.image}" height="${side.image}">
    <defs><radialGradient id="lamp" cx="42%" cy="30%" r="85%"><stop offset="0" stop-color="#dfe9ff" stop-opacity=".28"/><stop offset=".55" stop-color="#8fa8d8" stop-opacity=".05"/><stop offset="1" stop-color="#00060a" stop-opacity=".6"/></radialGradient></defs>
    <rect width="100" height="100" fill="#232c2b"/><path d="${crate}" stroke="#303c3a" stroke-width="2.4"/>
    <g transform="${place}"><g transform="translate(2.5 4)" opacity=".35">${drawingOf(form ?? 'plug').replaceAll(/currentColor|var\(--plate, [^)]*\)/g, '#05090a')}</g>${coral}</g>
    <rect width="100" height="100" fill="url(#lamp)"/></svg>`;
}

async function photograph(svg: string): Promise<{ image: Buffer; small: Buffer }> {
  const drawn = new Resvg(svg).render();
  const raw = { width: drawn.width, height: drawn.height, channels: 4 as const };
  const jpeg = (longest: number) =>
    sharp(drawn.pixels, { raw })
      .resize(longest)
      .flatten({ background: '#232c2b' })
      .jpeg({ quality: 78 })
      .toBuffer();
  const [image, small] = await Promise.all([jpeg(side.image), jpeg(side.small)]);
  return { image, small };
}

/** When a lot was photographed, and whether it was pale then. */
function sittings({ paleAt, arrivedAt }: Subject, random: Random, now: Date): { at: Date; pale: boolean }[] {
  const ago = (days: number) =>
    new Date(now.getTime() - days * dayMs - Math.round(random.uniform() * 5) * hourMs);
  const sat = (at: Date) => at > arrivedAt;
  if (paleAt !== null) {
    const before = new Date(paleAt.getTime() - 9 * dayMs);
    return [
      { at: before, pale: false },
      { at: paleAt, pale: true },
    ].filter(({ at }) => sat(at));
  }
  if (random.uniform() > photographed) return [];
  return [{ at: ago(2 + random.below(40)), pale: false }].filter(({ at }) => sat(at));
}

/** Photographs most lots of the grown farm; those that pale before and after. */
export async function photographStock(service: Service, seed: number): Promise<void> {
  const random = seededRandom(seed);
  const { rows } = await service.pool.query<Subject>(query);
  const taken = rows.flatMap((subject) => {
    const [hue, strength] = colours[random.below(colours.length)] ?? colours[0];
    return sittings(subject, random, service.now()).map(({ at, pale }) => ({
      subject,
      at,
      svg: painted(subject.form, hue, strength, pale, random),
    }));
  });
  const photos = await Promise.all(
    taken.map(async ({ subject: { lotId, accountId }, at, svg }) => {
      const { image, small } = await photograph(svg);
      const bytes = { image: new Uint8Array(image), small: new Uint8Array(small) };
      const size = { width: side.image, height: side.image };
      return { id: uuidv7(), lotId, accountId, takenAt: at, createdAt: at, ...size, ...bytes };
    }),
  );
  await service.db.photo.createMany({ data: photos });
}
