import type { Round } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import { convertMeasure } from '../../science/units.ts';
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
import { condition, count, rackOf, rackWell, shelfCount } from './lot-effects.ts';
import { takeBack } from './take-back.ts';

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
      return condition(work, round, entry, at);
    case 'count':
      return count(work, entry, at);
    case 'shelf_count':
      return shelfCount(work, round, entry, at);
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
    case 'take_back':
      return takeBack(work, round, entry, at);
  }
}

async function feeding(work: Work, entry: Of<'feeding'>, at: Date): Promise<Applied> {
  const { systemId, food, amountUnit = 'g', tankId, pumpsOffMin, reason, sure } = entry;
  const amountG = entry.amountG === null ? null : convertMeasure('mass', entry.amountG, amountUnit, 'g');
  const { id } = await addFeeding(work, systemId, {
    ...{ food, amountG, tankId, pumpsOffMin, reason, sure },
    response: '',
    at,
  });
  return {
    systemId,
    detail: { feedingId: id, food, amountG, pumpsOffMin, ...(reason === '' ? {} : { note: reason }) },
  };
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
  if (known === null) throw new Refusal('This round has no such entry. Open the round again.');
  const { key, title, systemId } = known;
  work.record('chore.done', { type: 'round', id: round.id }, { chore: title, systemId, note: entry.note });
  if (systemId !== null && key.startsWith('check:')) await checkedWell(work, systemId, at);
  const detail = { key, what: title, note: entry.note };
  return systemId === null ? { detail } : { systemId, detail };
}

/** Ended when it was tapped, with the racks that are passed now. */
async function finished(work: Work, round: Round, at: Date): Promise<Applied> {
  const racks = await passedRacks(work.tx, round.planId, at);
  const ended = await endRound(work, round, at);
  if (ended) await noteChecksLeftOut(work, round);
  return { detail: ended ? { racks } : {} };
}
