import { createHash } from 'node:crypto';
import type { GrowthForm } from '../../../src/generated/prisma/enums.ts';
import { change } from '../../../src/platform/change.ts';
import type { Service } from '../../../src/platform/service.ts';
import { dayMs, hourMs } from '../../../src/science/numeric/time.ts';
import { clamp } from '../../../src/science/photograph/image.ts';
import { type Random, seededRandom } from '../../../src/science/statistics/random.ts';
import { rackThen } from '../../../src/stock/rack-photographs/lots-then.ts';
import { addRackPhotograph } from '../../../src/stock/rack-photographs/photographs.ts';
import { readPhotograph } from '../../../src/stock/rack-photographs/reading.ts';
import { type DrawnPiece, drawRack } from './drawing.ts';

/** Names of racks, and how many days ago each is photographed. */
type Sittings = Readonly<Record<string, readonly number[]>>;

/** Which racks the demo farm photographs: the paling one often of late, and each once in the last days, so that lots have faces. */
export const LATE_SITTINGS: Sittings = { N3: [165, 125, 88, 52, 24, 9, 4, 1], N1: [3], B1: [2], S5: [5] };
/** Those that show no more than growth; they take as long to read as all others. */
export const EARLIER_SITTINGS: Sittings = { N1: [150, 92, 33], B1: [140, 84, 30], S5: [131, 77, 27] };

/** How long before somebody notes it a lot begins to pale, how long it takes, days, and how far it gets on the way to white (invented). */
const PALING = { before: 5, days: 14, most: 0.55 };

interface Rack {
  id: string;
  name: string;
  rows: number;
  columns: number;
  siteId: string;
  accountId: string;
}

const racksOf = `
  SELECT rack.id, rack.name, rack.rows, rack.columns, system.site_id AS "siteId",
         (SELECT id FROM account WHERE role = 'hand' ORDER BY created_at LIMIT 1) AS "accountId"
    FROM rack JOIN tank ON tank.id = rack.tank_id JOIN system ON system.id = tank.system_id
   WHERE rack.name = ANY($1) ORDER BY rack.name`;

interface Subject {
  id: string;
  form: GrowthForm | null;
  /** When it first looked pale; null where it never did. */
  paleAt: Date | null;
}

const subjectsOf = `
  SELECT face.lot_id AS id, face.growth_form AS form,
         (SELECT min(at) FROM condition WHERE lot_id = face.lot_id AND state = 'paling') AS "paleAt"
    FROM lot_face AS face WHERE face.lot_id = ANY($1::uuid[])`;

/**
 * Photographs racks of the grown farm: each is drawn as its lots stood then, and read as any photograph is.
 * @param isOver whether no more of them are wanted
 */
export async function photographRacks(
  service: Service,
  seed: number,
  sittings: Sittings,
  isOver: () => boolean = () => false,
): Promise<void> {
  const { rows } = await service.pool.query<Rack>(racksOf, [Object.keys(sittings)]);
  const taken = rows.flatMap((rack) => (sittings[rack.name] ?? []).map((daysAgo) => ({ rack, daysAgo })));
  // The next is drawn while one is read.
  let next = taken[0] === undefined ? null : drawSitting(service, seed, taken[0]);
  for (let i = 0; next !== null && !isOver(); i++) {
    const drawn = await next;
    const following = taken[i + 1];
    next = following === undefined ? null : drawSitting(service, seed, following);
    await keepSitting(service, drawn);
  }
}

type Drawn = Awaited<ReturnType<typeof drawSitting>>;

async function drawSitting(
  service: Service,
  seed: number,
  { rack, daysAgo }: { rack: Rack; daysAgo: number },
) {
  const at = new Date(service.now().getTime() - daysAgo * dayMs - (daysAgo % 3) * hourMs);
  const then = await rackThen(service.pool, rack, at);
  const { rows } = await service.pool.query<Subject>(subjectsOf, [then.rack.lots.map(({ id }) => id)]);
  const subjects = new Map(rows.map((subject) => [subject.id, subject]));
  const pieces = then.rack.lots.flatMap(({ id, slots }) => {
    const subject = subjects.get(id) ?? { id, form: null, paleAt: null };
    return slots.map((slot) => pieceOf(subject, slot, at, daysAgo));
  });
  const jpeg = await drawRack({ ...rack, pieces, seed: seed + daysAgo });
  return { rack, at, then, jpeg };
}

/** A lot keeps its colour and its growth from picture to picture: both belong to its id. */
function pieceOf(
  { id, form, paleAt }: Subject,
  slot: { row: number; column: number },
  at: Date,
  daysAgo: number,
): DrawnPiece {
  const random = seededRandom(createHash('sha256').update(id).digest().readUInt32BE());
  const [hue, strength] = [360 * random.uniform(), 34 + 22 * random.uniform()];
  const own = seededRandom(random.below(1e9) + 31 * slot.row + slot.column);
  return {
    ...slot,
    ...{ form, hue, strength, pale: paleness(paleAt, at) },
    wide: widthOf(own) * (1 - daysAgo / (900 + 900 * random.uniform())),
  };
}

const widthOf = (random: Random) => 20 + 4 * random.uniform();

function paleness(paleAt: Date | null, at: Date): number {
  if (paleAt === null) return 0;
  const days = (at.getTime() - paleAt.getTime()) / dayMs + PALING.before;
  return PALING.most * clamp(days / PALING.days, 0, 1);
}

async function keepSitting(service: Service, { rack, at, then, jpeg }: Drawn): Promise<void> {
  const file = new Uint8Array(jpeg);
  const sha256 = createHash('sha256').update(file).digest('hex');
  const read = await readPhotograph({ file, rack: then.rack, focal35: null, keepOriginal: false });
  const { id: rackId, siteId, accountId } = rack;
  await change({ ...service, now: () => at }, { accountId }, (work) =>
    addRackPhotograph(work, { ...{ rackId, siteId, takenAt: at, sha256 }, lots: then.lots, read }),
  );
}
