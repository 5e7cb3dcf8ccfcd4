import type { Round } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import { noteCondition } from '../../stock/lots/conditions.ts';
import { countLot } from '../../stock/lots/ledger.ts';
import { addFeeding, notePumpsOn, noteResponse } from '../../water/log/feedings.ts';
import { parseInstrument } from '../../water/readings/readings.schema.ts';
import { enterReadings } from '../../water/readings/readings.ts';
import { noteChecksLeftOut } from '../round/checks-left-out.ts';
import { choreOf } from '../round/chores.rules.ts';
import { passedRacks } from '../round/rack-lots.ts';
import { endRound } from '../round/rounds.ts';
import { doTask } from '../tasks/tasks.ts';
import type { Entry } from './entries.schema.ts';
import { checkedWell, faultSeen, happened, seenRunning, switchedOff } from './equipment-effects.ts';

/** What an entry became: what it is about, and what to remember of it. */
export interface Applied {
  rackId?: string | null;
  lotId?: string;
  systemId?: string;
  detail: object;
}

type Of<K extends Entry['kind']> = Extract<Entry, { kind: K }>;

/** Does what the entry says. @throws Refusal */
export async function applyEntry(work: Work, round: Round, entry: Entry, at: Date): Promise<Applied> {
  switch (entry.kind) {
    case 'rack_well':
      return rackWell(work, round, entry, at);
    case 'condition':
      return condition(work, entry, at);
    case 'count':
      return count(work, entry, at);
    case 'feeding':
      return feeding(work, entry, at);
    case 'pumps_on':
      return pumpsOn(work, entry, at);
    case 'switch_off':
      return switchedOff(work, entry, at);
    case 'seen_running':
      return seenRunning(work, entry, at);
    case 'event':
      return happened(work, entry, at);
    case 'fault':
      return faultSeen(work, round, entry, at);
    case 'response':
      return response(work, entry);
    case 'reading':
      return reading(work, entry, at);
    case 'task':
      return task(work, entry, at);
    case 'chore':
      return chore(work, round, entry, at);
    case 'finished':
      return finished(work, round, at);
    case 'skipped':
      return skipped(work, round, entry, at);
    case 'discarded':
      return discarded(work, entry);
  }
}

interface Rack {
  id: string;
  name: string;
}

/** @throws Refusal when the rack is not passed on this round */
async function rackOf(work: Work, round: Round, rackId: string): Promise<Rack> {
  const racks = await work.tx.$queryRaw<Rack[]>`
    SELECT rack.id, rack.name FROM rack
      JOIN round_plan_tank AS walked ON walked.tank_id = rack.tank_id
     WHERE rack.id = ${rackId}::uuid AND walked.plan_id = ${round.planId}::uuid`;
  if (racks[0] === undefined)
    throw new Refusal('This rack is not passed on this round, or no longer.', { status: 404 });
  return racks[0];
}

/**
 * A rack passed as well counts as a look at every lot on it that has no entry of its own. A lot that was not well
 * before keeps its earlier condition: one tap for the whole rack does not say that it recovered.
 */
async function rackWell(work: Work, round: Round, entry: Of<'rack_well'>, at: Date): Promise<Applied> {
  const rack = await rackOf(work, round, entry.rackId);
  const [seen] = await work.tx.$queryRaw<{ well: number; apart: string[] }[]>`
    SELECT count(*) FILTER (WHERE coalesce(last.state, 'well') = 'well')::int AS well,
           coalesce(array_agg(lot.lot_id::text) FILTER (WHERE last.state <> 'well'), '{}') AS apart
      FROM (SELECT DISTINCT lot_id FROM lot_place WHERE rack_id = ${rack.id}::uuid) AS lot
      LEFT JOIN LATERAL (SELECT state FROM condition
                          WHERE lot_id = lot.lot_id AND voided_at IS NULL AND at <= ${at}
                          ORDER BY at DESC, id DESC LIMIT 1) AS last ON true`;
  work.record('rack.looked_at', { type: 'rack', id: rack.id }, { round: round.id, well: seen?.well ?? 0 });
  return { rackId: rack.id, detail: { ...seen, rack: rack.name } };
}

async function condition(work: Work, entry: Of<'condition'>, at: Date): Promise<Applied> {
  const { lotId, state, grade, note, rackId } = entry;
  const lot = await lotOf(work, lotId);
  const lostPieces = state === 'lost' ? piecesLost(lot, entry.pieces) : null;
  const { id } = await noteCondition(work, { lotId, state, grade, note, at, lostPieces });
  if (state !== 'lost' && entry.pieces !== null) {
    await countLot(work, { lotId, reason: 'recount', pieces: entry.pieces, at, note });
  }
  const detail = { conditionId: id, state, grade, note, pieces: entry.pieces, code: lot.code };
  return { lotId, rackId, detail };
}

/** @throws Refusal when nobody said how many of several pieces are left */
function piecesLost(lot: { pieces: number }, left: number | null): number {
  if (left !== null && left >= lot.pieces) {
    throw new Refusal(`Enter how many are left: fewer than the ${lot.pieces} there were.`, {
      field: 'pieces',
    });
  }
  if (left !== null) return lot.pieces - left;
  if (lot.pieces > 1)
    throw new Refusal(`Enter how many of the ${lot.pieces} pieces are left; 0 if none.`, { field: 'pieces' });
  return lot.pieces;
}

async function lotOf(work: Work, id: string): Promise<{ code: string; pieces: number }> {
  const lot = await work.tx.lot.findUnique({ where: { id }, select: { code: true, pieces: true } });
  if (lot === null) throw notFound('This lot');
  return lot;
}

async function count(work: Work, entry: Of<'count'>, at: Date): Promise<Applied> {
  const { lotId, pieces, note, rackId } = entry;
  const lot = await lotOf(work, lotId);
  await countLot(work, { lotId, reason: 'recount', pieces, at, note });
  return { lotId, rackId, detail: { pieces, before: lot.pieces, note, code: lot.code } };
}

async function feeding(work: Work, entry: Of<'feeding'>, at: Date): Promise<Applied> {
  const { systemId, food, amountG, tankId, pumpsOffMin } = entry;
  const { id } = await addFeeding(work, systemId, { food, amountG, tankId, pumpsOffMin, response: '', at });
  return { systemId, detail: { feedingId: id, food, amountG, pumpsOffMin } };
}

/** The feeding that an entry names by its own key, or by the key of the entry that noted it. */
async function feedingOf(work: Work, key: string) {
  const noted = await work.tx.roundEntry.findFirst({
    where: { id: key, kind: { in: ['feeding', 'task'] } },
  });
  const id = (noted?.detail as { feedingId?: string } | undefined)?.feedingId ?? key;
  const fed = await work.tx.feeding.findUnique({ where: { id } });
  if (fed === null) throw notFound('This feeding');
  return fed;
}

/** The pumps came on when it was tapped, not when the tablet found the network again. */
async function pumpsOn(work: Work, entry: Of<'pumps_on'>, at: Date): Promise<Applied> {
  const fed = await feedingOf(work, entry.feedingId);
  const now = at > fed.at ? at : fed.at;
  const { systemId } = await notePumpsOn({ ...work, now }, fed.id);
  return { systemId, detail: { feedingId: fed.id } };
}

async function response(work: Work, entry: Of<'response'>): Promise<Applied> {
  const { id } = await feedingOf(work, entry.feedingId);
  const { systemId } = await noteResponse(work, id, entry.response);
  return { systemId, detail: { feedingId: id, response: entry.response } };
}

async function reading(work: Work, entry: Of<'reading'>, at: Date): Promise<Applied> {
  const { systemId, quantityCode, text, unit, how, dilution, sure, note } = entry;
  const { readings } = await enterReadings(work, {
    systemId,
    at,
    note,
    readings: [{ quantityCode, text, unit, ...parseInstrument(how), dilution, sure }],
  });
  const [kept] = readings;
  if (kept === undefined) throw new Refusal('Enter what the test showed.', { field: quantityCode });
  const what = `${kept.name} ${kept.said}`;
  return { systemId, detail: { readingId: kept.id, quantityCode, what, trust: kept.trust, note } };
}

/** Work that was planned, done at the planned amount or at another. */
async function task(work: Work, { key, amount, note }: Of<'task'>, at: Date): Promise<Applied> {
  const { systemId, feedingId, what } = await doTask(work, key, { at, amount, note });
  return { systemId, detail: { key, what, amount, note, ...(feedingId === null ? {} : { feedingId }) } };
}

async function skipped(work: Work, round: Round, entry: Of<'skipped'>, at: Date): Promise<Applied> {
  const rack = await rackOf(work, round, entry.rackId);
  work.record('rack.left_out', { type: 'rack', id: rack.id }, { round: round.id, at, why: entry.note });
  return { rackId: rack.id, detail: { note: entry.note, rack: rack.name } };
}

/** What a tablet could not send is told in the journal, with why a person gave it up. */
function discarded(work: Work, { id, what, why }: Of<'discarded'>): Applied {
  work.record('round_entry.discarded', { type: 'round_entry', id }, { what, why });
  return { detail: { what, note: why } };
}

async function chore(work: Work, round: Round, entry: Of<'chore'>, at: Date): Promise<Applied> {
  const known = choreOf(entry.key);
  if (known === null) throw new Refusal('This is nothing the round asks for. Open the round again.');
  const { key, title, systemId } = known;
  work.record('chore.done', { type: 'round', id: round.id }, { chore: title, systemId, note: entry.note });
  if (systemId !== null && key.startsWith('check:')) await checkedWell(work, systemId, at);
  const detail = { key, what: title, note: entry.note };
  return systemId === null ? { detail } : { systemId, detail };
}

/** Ended when it was tapped, with the racks that are passed now. */
async function finished(work: Work, round: Round, at: Date): Promise<Applied> {
  const racks = await passedRacks(work.tx, round.planId);
  const ended = await endRound(work, round, at);
  if (ended) await noteChecksLeftOut(work, round);
  return { detail: ended ? { racks } : {} };
}
