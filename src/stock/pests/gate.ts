import { uuidv7 } from 'uuidv7';
import { waterTroubles } from '../../alerts/water-trouble.ts';
import type { Work } from '../../platform/change.ts';
import { readerOf, type SqlReader } from '../../platform/database/sql-reader.ts';
import { Refusal } from '../../platform/refusal.ts';
import { lotSubject } from '../base/lot-lock.ts';
import { arriveInQuarantine } from '../quarantine/quarantines.ts';
import {
  type GateAnswer,
  gateAnswer,
  gateRefusal,
  type QuarantineOfLot,
  type WatchOverLot,
} from './gate.rules.ts';
import { type Act, pestInWords } from './pests.rules.ts';
import { waitingPests, watchFirstPlaces } from './waiting.ts';
import { carryWatches } from './watches.ts';
import { sameWater, type Water, watersOfLots, watersOfSlots } from './waters.ts';

/** A lot that something is to be done with. */
export interface GatedLot {
  lotId: string;
  code: string;
}

const watchesQuery = `
  SELECT water.lot_id AS "lotId", watch.id, watch.pest,
         CASE WHEN tank.id IS NULL THEN system.name ELSE tank.name || ' of ' || system.name END AS water,
         EXISTS (SELECT FROM pest_sighting AS seen JOIN condition ON condition.id = seen.condition_id
                   JOIN pest_watch AS there ON there.id = seen.watch_id
                  WHERE seen.lot_id = water.lot_id AND condition.voided_at IS NULL AND there.pest = watch.pest
                    AND there.ended_at IS NULL) AS "seenOn"
    FROM lot_water AS water
    JOIN pest_watch AS watch ON watch.system_id = water.system_id AND watch.tank_id IS NOT DISTINCT FROM water.water_tank_id
     AND watch.ended_at IS NULL
    JOIN system ON system.id = watch.system_id LEFT JOIN tank ON tank.id = watch.tank_id
   WHERE water.lot_id = ANY($1::uuid[]) ORDER BY watch.opened_at, watch.id`;

const quarantineQuery = `
  SELECT water.lot_id AS "lotId", quarantine.id, tank.name AS tank, quarantine.purpose
    FROM lot_water AS water JOIN quarantine ON quarantine.tank_id = water.tank_id AND quarantine.ended_at IS NULL
    JOIN tank ON tank.id = water.tank_id
   WHERE water.lot_id = ANY($1::uuid[])`;

/**
 * What the water of each lot says to an act, by lot, and what waits on a lot without a water; `concerns` leaves out what
 * does not concern it. Five queries.
 */
async function answersOf(
  reader: SqlReader,
  lotIds: readonly string[],
  act: Act,
  concerns?: (lotId: string, watch: WatchOverLot) => boolean,
): Promise<ReadonlyMap<string, GateAnswer>> {
  const watches = await reader.query<WatchOverLot & { lotId: string }>(watchesQuery, [[...lotIds]]);
  const quarantines = await reader.query<QuarantineOfLot & { lotId: string }>(quarantineQuery, [[...lotIds]]);
  const held = new Map(quarantines.rows.map((row) => [row.lotId, row]));
  const onNone = { id: null, water: '', seenOn: true };
  const waiting = (await waitingPests(reader, lotIds)).map((one) => ({ ...one, ...onNone }));
  const over = Map.groupBy([...watches.rows, ...waiting], ({ lotId }) => lotId);
  // A lot that leaves a water in trouble is asked nothing: whoever saves it has no time.
  const troubles = act === 'move' ? new Map<string, string[]>() : await troublesOfLots(reader, lotIds);
  return new Map(
    lotIds.map((id) => {
      const concerning = (over.get(id) ?? []).filter((watch) => concerns?.(id, watch) ?? true);
      return [id, gateAnswer(act, concerning, held.get(id) ?? null, troubles.get(id))];
    }),
  );
}

/** Titles of the alerts on the water in which each of these lots stands; a tank with water of its own has none. Two queries. */
async function troublesOfLots(
  reader: SqlReader,
  lotIds: readonly string[],
): Promise<ReadonlyMap<string, string[]>> {
  const waters = await watersOfLots(reader, lotIds);
  const stand = [...waters].filter(([, { stands, tankId }]) => stands && tankId === null);
  const found = await waterTroubles(reader, [...new Set(stand.map(([, { systemId }]) => systemId))]);
  const titles = Map.groupBy(found, ({ systemId }) => systemId);
  return new Map(
    stand.map(([id, { systemId }]) => [id, (titles.get(systemId) ?? []).map(({ title }) => title)]),
  );
}

/** Keeps the reason for what was done all the same. */
export async function keepReasons(
  work: Work,
  act: Act,
  lots: readonly GatedLot[],
  answers: ReadonlyMap<string, GateAnswer>,
  reason: string,
): Promise<void> {
  const rows = lots.flatMap(({ lotId }) => {
    const { watchIds = [], quarantineId = null } = answers.get(lotId) ?? {};
    const row = { lotId, act, reason, at: work.now, accountId: work.accountId };
    return [
      ...watchIds.map((watchId) => ({ ...row, id: uuidv7(), watchId, quarantineId: null })),
      ...(quarantineId === null ? [] : [{ ...row, id: uuidv7(), watchId: null, quarantineId }]),
    ];
  });
  if (rows.length > 0) await work.tx.keptApartReason.createMany({ data: rows });
  for (const { lotId, code } of lots) {
    const why = answers.get(lotId)?.why ?? '';
    if (why !== '') work.record('kept_apart.overridden', lotSubject(lotId), { code, act, why, reason });
  }
}

/** @throws Refusal 409 beside `field` for the first lot that asks for a reason where none is given */
export function refuseUnanswered(
  lots: readonly GatedLot[],
  act: Act,
  answers: ReadonlyMap<string, GateAnswer>,
  { despite, field = 'despite' }: { despite: string; field?: string },
): void {
  for (const { lotId, code } of lots) {
    const answer = answers.get(lotId);
    const refused = answer === undefined ? '' : gateRefusal(code, act, answer, despite);
    if (refused !== '') throw new Refusal(refused, { status: 409, field });
  }
}

/**
 * Asks whether lots may be sold, held, cut or tagged out of their water, or leave it for another site, and keeps the reason
 * where one was asked for. Moves within a site have {@link passMoves}.
 * @throws Refusal 409 beside `field` ("despite") where it is refused, or a reason is asked for and none is given
 */
export async function passGate(
  work: Work,
  act: Act,
  lots: readonly GatedLot[],
  said: { despite: string; field?: string },
): Promise<void> {
  const ids = lots.map(({ lotId }) => lotId);
  const answers = await answersOf(readerOf(work.tx), ids, act);
  refuseUnanswered(lots, act, answers, said);
  await keepReasons(work, act, lots, answers, said.despite);
}

/** A lot and the slots it goes to; none takes it off its rack. */
export interface GatedMove extends GatedLot {
  slotIds: readonly string[];
}

/**
 * Asks whether lots may be moved to other water. Water that is watched for the same pest already takes them without a
 * question; other water comes under watch with them. A lot that comes into a tank in quarantine has its days begin again.
 * @throws Refusal as {@link passGate}
 */
export async function passMoves(
  work: Work,
  moves: readonly GatedMove[],
  { at, despite, field = 'despite' }: { at: Date; despite: string; field?: string },
): Promise<void> {
  const placed = moves.filter(({ slotIds }) => slotIds.length > 0);
  if (placed.length === 0) return;
  const reader = readerOf(work.tx);
  const from = await watersOfLots(
    reader,
    placed.map(({ lotId }) => lotId),
  );
  const slots = await watersOfSlots(
    reader,
    placed.flatMap(({ slotIds }) => slotIds.slice(0, 1)),
  );
  const toOf = ({ slotIds }: GatedMove) => slots.get(slotIds[0] ?? '');
  const elsewhere = placed.filter((move) => {
    const [was, to] = [from.get(move.lotId), toOf(move)];
    return to !== undefined && was !== undefined && was.vesselId !== to.vesselId;
  });
  await passLeaving(work, elsewhere, { at, despite, field }, (lotId) => from.get(lotId), toOf);
  const first = placed.flatMap((move) => {
    const to = toOf(move);
    return from.has(move.lotId) || to === undefined ? [] : [{ ...move, to }];
  });
  if (first.length > 0) await watchFirstPlaces(work, first, { at, despite, field });
  const came = placed.filter((move) => {
    const [was, to] = [from.get(move.lotId), toOf(move)];
    return to?.quarantine === true && !(was?.stands === true && was.vesselId === to.vesselId);
  });
  for (const [tankId, lots] of Map.groupBy(came, (move) => toOf(move)?.vesselId ?? '')) {
    const codes = lots.map(({ code }) => code).join(', ');
    await arriveInQuarantine(work, tankId, { code: codes, at });
  }
}

async function passLeaving(
  work: Work,
  moves: readonly GatedMove[],
  { at, despite, field }: { at: Date; despite: string; field: string },
  fromOf: (lotId: string) => Water | undefined,
  toOf: (move: GatedMove) => Water | undefined,
): Promise<void> {
  if (moves.length === 0) return;
  const targets = new Map(moves.map((move) => [move.lotId, toOf(move)]));
  const watched = await watchedPests(
    readerOf(work.tx),
    [...targets.values()].filter((to) => to !== undefined),
  );
  const concerns = (lotId: string, { pest }: WatchOverLot): boolean => {
    const [was, to] = [fromOf(lotId), targets.get(lotId)];
    if (was === undefined || to === undefined || sameWater(was, to)) return false;
    return !watched.some((one) => sameWater(one, to) && one.pest === pest);
  };
  const reader = readerOf(work.tx);
  const ids = moves.map(({ lotId }) => lotId);
  const answers = await answersOf(reader, ids, 'move', concerns);
  refuseUnanswered(moves, 'move', answers, { despite, field });
  await keepReasons(work, 'move', moves, answers, despite);
  const { rows } = await reader.query<WatchOverLot & { lotId: string }>(watchesQuery, [ids]);
  for (const move of moves) {
    const to = targets.get(move.lotId);
    const pests = rows
      .filter((row) => row.lotId === move.lotId && concerns(move.lotId, row))
      .map(({ pest }) => pest);
    const water = rows.find(({ lotId }) => lotId === move.lotId)?.water ?? '';
    if (to !== undefined)
      await carryWatches(work, pests, to, { at, why: `${move.code} came from ${water}.` });
  }
}

/** A stay of a lot that is over, and where it is now said to have been. */
export interface PastStay extends GatedMove {
  toAt: Date;
}

/**
 * Asks about a past stay that is corrected into water which was under watch then and still is: the water in which the lot
 * stands now comes under watch as well, as if it had been moved.
 * @throws Refusal 409 beside `field` where no reason is given
 */
export async function passPastStay(
  work: Work,
  { lotId, code, slotIds, toAt }: PastStay,
  { despite, field }: { despite: string; field: string },
): Promise<void> {
  const reader = readerOf(work.tx);
  const [now, then] = [
    (await watersOfLots(reader, [lotId])).get(lotId),
    (await watersOfSlots(reader, slotIds.slice(0, 1))).get(slotIds[0] ?? ''),
  ];
  if (now === undefined || then === undefined || sameWater(now, then)) return;
  const watched = await watchedPests(reader, [now, then]);
  const known = watched.filter((one) => sameWater(one, now)).map(({ pest }) => pest);
  const carried = watched.filter(
    (one) => sameWater(one, then) && one.openedAt < toAt && !known.includes(one.pest),
  );
  if (carried.length === 0) return;
  const pests = carried.map(({ pest }) => pestInWords(pest)).join(', ');
  if (despite === '')
    throw new Refusal(
      `${code}: that water was under watch for ${pests} then, so the water it is in now comes under watch too. Say why it is corrected.`,
      { status: 409, field },
    );
  const why = `${code} is now said to have been in water under watch.`;
  await carryWatches(
    work,
    carried.map(({ pest }) => pest),
    now,
    { at: work.now, why },
  );
}

async function watchedPests(
  reader: SqlReader,
  waters: readonly Water[],
): Promise<(Water & { pest: string; openedAt: Date })[]> {
  const { rows } = await reader.query<Water & { pest: string; openedAt: Date }>(
    `SELECT system_id AS "systemId", tank_id AS "tankId", pest, opened_at AS "openedAt" FROM pest_watch
      WHERE ended_at IS NULL AND system_id = ANY($1::uuid[])`,
    [waters.map(({ systemId }) => systemId)],
  );
  return rows;
}

/** Why something cannot be done with each of several lots, '' where it can: for forms about several lots. Three queries. */
export async function gateRefusals(
  reader: SqlReader,
  lots: readonly { id: string; code: string }[],
  act: Act,
  reason: string,
): Promise<ReadonlyMap<string, string>> {
  const answers = await answersOf(
    reader,
    lots.map(({ id }) => id),
    act,
  );
  return new Map(
    lots.map(({ id, code }) => {
      const answer = answers.get(id);
      return [id, answer === undefined ? '' : gateRefusal(code, act, answer, reason)];
    }),
  );
}

/** What the page of a form says before anything is sent; null where nothing is asked. */
export async function gateNotice(
  reader: SqlReader,
  lotId: string,
  act: Act,
): Promise<{ refused: boolean; why: string } | null> {
  const answer = (await answersOf(reader, [lotId], act)).get(lotId);
  if (answer === undefined || answer.answer === 'free') return null;
  const within = act === 'move' ? ' Within this water it moves freely.' : '';
  return { refused: answer.answer === 'refused', why: `${answer.why}${within}` };
}
