import { slotLightAt } from '../../farm/light/slot-light.ts';
import { askForLook, endLook } from '../../farm/looks/looks.ts';
import type { Work } from '../../platform/change.ts';
import { readerOf } from '../../platform/database/sql-reader.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import { plural } from '../../platform/words/numbers.ts';
import { daysAfter, hourMs } from '../../science/numeric/time.ts';
import { countLot } from '../lots/ledger.ts';
import { addLot } from '../lots/lots.ts';
import type { TemperaturesOf } from '../pests/tasks.ts';
import { setQuarantine, usualDays } from '../quarantine/quarantines.ts';
import type { TypedDeliveryLine } from './deliveries.schema.ts';
import { againstWater } from './into-water.ts';
import { choosePlaces, type FreePlace } from './places.rules.ts';

/** A delivery as it is received: the boxes, where they go, and a line for each lot. */
export interface NewDelivery {
  siteId: string;
  supplier: string;
  at: Date;
  hours: number | null;
  boxDegC: number | null;
  boxSalinity: number | null;
  claimHours: number | null;
  /** The tank set apart as quarantine; '' leaves the lots without a place. */
  tank: string;
  purpose: string;
  note: string;
  /** Why it goes into this water although something speaks against it; '' where nobody said. */
  despite?: string;
  lines: readonly TypedDeliveryLine[];
}

/**
 * Days after which lots of unknown light are looked at: metabolism answers within 7, fluorescence has adjusted by 21 (J. Exp.
 * Biol. 222 (2019), read in an abstract), at 40 days by common practice.
 */
const lookDays = [7, 21, 40] as const;

const ofDelivery = (id: string) => ({ type: 'delivery' as const, id });

const freeQuery = `
  SELECT slot.id AS "slotId", rack.id AS "rackId" FROM slot JOIN rack ON rack.id = slot.rack_id
   WHERE rack.tank_id = $1::uuid AND slot.row <= rack.rows AND slot."column" <= rack.columns
     AND NOT EXISTS (SELECT 1 FROM placement_slot WHERE placement_slot.slot_id = slot.id AND placement_slot.to_at IS NULL)
   ORDER BY rack.position, rack.name, slot.row, slot."column"`;

/** The free slots of a tank with their light at a time. Two queries and those of the light. */
async function freePlaces(work: Work, tankId: string, at: Date): Promise<FreePlace[]> {
  const reader = readerOf(work.tx);
  const { rows } = await reader.query<{ slotId: string; rackId: string }>(freeQuery, [tankId]);
  const light = await slotLightAt(
    reader,
    rows.map(({ slotId }) => slotId),
    at,
  );
  return rows.map((row) => ({ ...row, par: light.get(row.slotId)?.par ?? null }));
}

/**
 * Takes a delivery in: each line becomes a lot with the pieces that were in the box, those that arrived dead are taken off
 * with that cause, the living ones go into the tank, the dimmest slots to those whose light is not known, and looks are
 * asked for. Its quarantine begins with its purpose, or counts anew.
 * @throws Refusal 404, 422 where the tank is no quarantine of this site, or a kind is not known; 409 where its water speaks against it
 *   and nobody says why it goes there
 */
export async function receiveDelivery(
  work: Work,
  typed: NewDelivery,
  temperaturesOf: TemperaturesOf,
): Promise<{ id: string; unplaced: number; keepsPurpose: string }> {
  const input = { ...typed, supplier: await knownSpelling(work, typed) };
  const { lines, tank: tankId, purpose, at, siteId, despite = '', ...row } = input;
  const tank = await quarantineTank(work, siteId, tankId);
  const against =
    tank === null ? [] : await againstWater(work, tank, { at, boxDegC: row.boxDegC }, temperaturesOf);
  if (against.length > 0 && despite === '')
    throw new Refusal(`${against.join(' ')} Choose another tank, or say why it goes there.`, {
      ...{ status: 409, field: 'despite' },
    });
  const { id } = await work.tx.delivery.create({
    data: {
      ...{ siteId, supplier: row.supplier, cameAt: at, hours: row.hours, note: row.note },
      ...{ boxDegC: row.boxDegC, boxSalinity: row.boxSalinity, claimHours: row.claimHours },
      ...{ accountId: work.accountId, createdAt: work.now },
    },
  });
  const living = lines.filter(({ counted, dead }) => counted > dead);
  const places =
    tank === null
      ? []
      : choosePlaces(
          living.map(({ par }) => par),
          await freePlaces(work, tank.id, at),
        );
  const keepsPurpose = tank === null ? '' : await quarantineFor(work, tank.id, purpose);
  const dim: string[] = [];
  for (const [position, line] of lines.entries()) {
    const place = places[living.indexOf(line)] ?? null;
    const lot = line.counted === 0 ? null : await takeIn(work, input, line, place?.slotId ?? null);
    if (lot !== null && line.lightKnown === 'unknown' && line.counted > line.dead) dim.push(lot.code);
    const { name, ordered, invoiced, counted, dead: arrivedDead, lightKnown, par: lightPar } = line;
    await work.tx.deliveryLine.create({
      data: {
        ...{ deliveryId: id, position, lotId: lot?.id ?? null, name, ordered, invoiced, counted },
        ...{ arrivedDead, lightKnown, lightPar },
      },
    });
  }
  const sum = (of: (line: TypedDeliveryLine) => number) => lines.reduce((total, line) => total + of(line), 0);
  const dead = sum((line) => line.dead);
  const missing = sum(({ invoiced, counted }) => Math.max(0, (invoiced ?? counted) - counted));
  const systemId = tank?.systemId ?? (await firstSystem(work, siteId));
  if (systemId !== null) {
    await askForLooks(work, { id, supplier: row.supplier, at, systemId, codes: dim });
    if (row.claimHours !== null && dead + missing > 0)
      await askForLook(work, {
        ...{ systemId, key: claimKey(id), href: hrefOf(id), urgent: false },
        title: `Claim with ${row.supplier}`,
        detail: `${plural(dead, 'piece', 'pieces')} arrived dead, ${missing} missing.`,
        // At half of the time, so that it is not forgotten until the last hour (own choice).
        dueAt: new Date(at.getTime() + (row.claimHours * hourMs) / 2),
      });
  }
  const { supplier } = row;
  work.record('delivery.received', ofDelivery(id), {
    supplier,
    at,
    lots: lines.length,
    pieces: sum(({ counted }) => counted),
    dead,
    ...(against.length === 0 ? {} : { why: against.join(' '), reason: despite }),
  });
  return { id, unplaced: living.length - places.filter((place) => place !== null).length, keepsPurpose };
}

/** A supplier as an earlier delivery spells it, where only case and spaces differ, so that its figures stay together. */
async function knownSpelling(work: Work, { siteId, supplier }: NewDelivery): Promise<string> {
  const plain = supplier.trim().replace(/\s+/g, ' ');
  const { rows } = await readerOf(work.tx).query<{ supplier: string }>(
    `SELECT supplier FROM delivery WHERE site_id = $1::uuid AND lower(regexp_replace(trim(supplier), '\\s+', ' ', 'g')) = lower($2)
      ORDER BY came_at DESC, id LIMIT 1`,
    [siteId, plain],
  );
  return rows[0]?.supplier ?? plain;
}

/**
 * The quarantine of a tank into which a delivery comes. One that runs for something else than to be observed keeps its
 * purpose, unless the delivery is there for pests.
 * @returns the purpose that it keeps against what was asked; '' where it has the one asked for
 */
async function quarantineFor(work: Work, tankId: string, asked: string): Promise<string> {
  const open = await work.tx.quarantine.findFirst({ where: { tankId, endedAt: null } });
  const { pest = '', until = '', days = usualDays } = open ?? {};
  const keeps = open !== null && open.purpose !== 'observe' && asked !== 'pests';
  const purpose = keeps ? open.purpose : asked;
  await setQuarantine(work, { tankId, purpose, pest, until, days });
  return purpose === asked ? '' : purpose;
}

/** Where the work of lots without a place stands in the list of the day: with the first system; null where there is none. */
async function firstSystem(work: Work, siteId: string): Promise<string | null> {
  const system = await work.tx.system.findFirst({
    where: { siteId, retiredAt: null },
    orderBy: [{ position: 'asc' }, { name: 'asc' }],
    select: { id: true },
  });
  return system?.id ?? null;
}

const hrefOf = (id: string) => `/stock/deliveries/${id}`;
/** The key of the look that reminds of a claim. */
export const claimKey = (id: string) => `claim:${id}`;
const lookKey = (id: string, day: number) => `delivery:${id}:${day}`;
/** The keys of the looks at its lots of unknown light. */
export const lookKeys = (id: string) => lookDays.map((day) => lookKey(id, day));

async function quarantineTank(work: Work, siteId: string, tankId: string) {
  if (tankId === '') return null;
  const tank = await work.tx.tank.findFirst({ where: { id: tankId, system: { siteId } } });
  if (tank === null) throw notFound('This tank');
  if (tank.quarantine) return tank;
  throw new Refusal('Choose a tank that is set apart as quarantine.', { field: 'tank' });
}

/** The lot of a line: the pieces in the box come in, the dead ones go out; where all are dead it stands nowhere. */
async function takeIn(
  work: Work,
  { siteId, supplier, at }: NewDelivery,
  { name, kind, counted, dead }: TypedDeliveryLine,
  slotId: string | null,
): Promise<{ id: string; code: string }> {
  const lot = await addLot(work, {
    ...{
      siteId,
      kindId: kind,
      tradeName: name,
      pieces: counted,
      arrivedAt: at,
      origin: supplier,
      permit: '',
    },
    ...{ sizeMm: null, isMother: false, note: '', identification: null },
    slotIds: slotId === null || counted === dead ? [] : [slotId],
  });
  if (dead > 0)
    await countLot(work, {
      lotId: lot.id,
      reason: 'lost',
      cause: 'dead_on_arrival',
      pieces: dead,
      at,
      note: '',
    });
  return lot;
}

async function askForLooks(
  work: Work,
  of: { id: string; supplier: string; at: Date; systemId: string; codes: readonly string[] },
): Promise<void> {
  const { id, supplier, at, systemId, codes } = of;
  if (codes.length === 0) return;
  for (const day of lookDays) {
    const dueAt = daysAfter(at, day);
    if (dueAt < work.now) continue;
    await askForLook(work, {
      ...{ systemId, key: lookKey(id, day), href: hrefOf(id), urgent: false, dueAt },
      title: `Look at the lots from ${supplier}, day ${day}`,
      detail: `Their light before is not known: ${codes.join(', ')}. Paling means too bright, brown and long means too dim.`,
    });
  }
}

/** A delivery with its lines. @throws Refusal 404 */
export async function findDelivery(db: Reader, id: string) {
  const delivery = await db.delivery.findUnique({
    where: { id },
    include: {
      lines: {
        orderBy: { position: 'asc' },
        include: {
          lot: { select: { id: true, code: true, pieces: true, kind: { select: { name: true } } } },
        },
      },
      account: { select: { name: true } },
    },
  });
  if (delivery === null) throw notFound('This delivery');
  return delivery;
}

/** Notes that a claim was made. @throws Refusal 404; 409 where one was made already */
export async function makeClaim(work: Work, id: string, note: string): Promise<void> {
  const { claimedAt, supplier, voidedAt } = await findDelivery(work.tx, id);
  if (voidedAt !== null) throw new Refusal('This delivery was taken back.', { status: 409 });
  if (claimedAt !== null) throw new Refusal('A claim was made already.', { status: 409 });
  const data = { claimedAt: work.now, claimNote: note, version: { increment: 1 } };
  await work.tx.delivery.update({ where: { id }, data });
  await endLook(work, claimKey(id), { note });
  work.record('delivery.claimed', ofDelivery(id), { supplier, note });
}

/** Notes what came of a claim. @throws Refusal 404; 409 where none was made */
export async function settleClaim(work: Work, id: string, result: string): Promise<void> {
  const { claimedAt, supplier } = await findDelivery(work.tx, id);
  if (claimedAt === null) throw new Refusal('No claim was made yet.', { status: 409 });
  await work.tx.delivery.update({ where: { id }, data: { claimResult: result, version: { increment: 1 } } });
  work.record('delivery.claim_settled', ofDelivery(id), { supplier, result });
}
