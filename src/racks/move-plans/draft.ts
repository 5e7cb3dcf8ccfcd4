import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { Refusal } from '../../platform/refusal.ts';
import { plural } from '../../platform/words/numbers.ts';
import { yieldLoop } from '../../platform/yield-loop.ts';
import { readCode } from '../../stock/base/codes.ts';
import { IndexedProblem } from '../placement-solver/indexed-problem.rules.ts';
import type { PlanLot } from '../placement-solver/slot-fit.rules.ts';
import { brokenLimitsByLot, type PlacementPlan, planPlacement } from '../placement-solver/solve.rules.ts';
import type { PlacementRequest } from './move-plans.schema.ts';
import { type PlacementInput, readPlacementInput } from './problem.ts';

/** A plan worked out, with what it was worked out from. */
export interface PlacementDraft {
  input: PlacementInput;
  plan: PlacementPlan;
  /** Lots that were to be placed but stay, and why. */
  locked: PlanLot[];
  /** How many lots were to be placed. */
  chosen: number;
  /** Lots by number that stand wrong, with the limits they break. */
  wrongBefore: ReadonlyMap<number, number>;
  wrongAfter: ReadonlyMap<number, number>;
}

/** More at once would take too long and could not be walked in a day anyway. */
const MOST_LOTS = 4000;
const MOST_SLOTS = 8000;

const unplacedQuery = `
  SELECT id FROM lot WHERE site_id = $1 AND pieces > 0 AND NOT EXISTS (SELECT 1 FROM lot_place WHERE lot_id = lot.id)
   ORDER BY code LIMIT ${MOST_LOTS + 1}`;

/**
 * Works a plan out; nothing is written. Other requests have their turn meanwhile.
 * @throws Refusal when no lot is chosen, a code is unknown, or there are too many at once
 */
export async function draftPlacement(
  reader: SqlReader,
  siteId: string,
  wish: PlacementRequest,
  now: Date,
): Promise<PlacementDraft> {
  const { which, use, emptyRack, makeWay } = wish;
  const lotIds = await namedLots(reader, siteId, wish);
  const emptyRackId = which === 'rack' ? emptyRack : null;
  const input = await readPlacementInput(reader, { siteId, useRackIds: use, emptyRackId, lotIds }, now);
  refuseTooMany(input);
  const problem = new IndexedProblem(input);
  const wrong = brokenLimitsByLot(problem, problem.currentArrangement());
  const named = new Set(lotIds);
  const usable = new Set([...use, ...(emptyRackId === null ? [] : [emptyRackId])]);
  const isOn = (number: number) =>
    (problem.currentSlots[number] ?? []).some((slot) => usable.has(problem.slot(slot).rackId));
  const isChosen = (lot: PlanLot, number: number) =>
    which === 'wrong'
      ? wrong.has(number) && isOn(number)
      : which === 'rack'
        ? (problem.currentSlots[number] ?? []).some((slot) => problem.slot(slot).emptied)
        : named.has(lot.id);
  const chosen = input.lots.filter(isChosen);
  if (chosen.length === 0) throw new Refusal(nothing[which], { field: 'which' });
  const ids = new Set(chosen.map(({ id }) => id));
  const lots = input.lots.map((lot, number): PlanLot => {
    if (lot.staysWhy !== '') return lot;
    if (ids.has(lot.id)) return { ...lot, role: 'chosen' };
    return makeWay && isOn(number) ? { ...lot, role: 'makes-way' } : lot;
  });
  const plan = await planPlacement({ lots, slots: input.slots }, yieldLoop());
  return {
    input,
    plan,
    locked: chosen.filter(({ staysWhy }) => staysWhy !== ''),
    chosen: chosen.length,
    wrongBefore: brokenLimitsByLot(plan.problem, plan.before),
    wrongAfter: brokenLimitsByLot(plan.problem, plan.after),
  };
}

const nothing: Record<PlacementRequest['which'], string> = {
  wrong: 'No lot on these racks is in a wrong place, by what is known of light, flow, jets, bases and reach.',
  unplaced: 'Every lot has a slot.',
  rack: 'This rack is empty.',
  codes: 'None of these lots has pieces left.',
};

async function namedLots(
  reader: SqlReader,
  siteId: string,
  { which, codes }: PlacementRequest,
): Promise<string[]> {
  if (which === 'unplaced') {
    const { rows } = await reader.query<{ id: string }>(unplacedQuery, [siteId]);
    return rows.map(({ id }) => id);
  }
  if (which !== 'codes') return [];
  const wanted = codes.map((typed) => {
    const read = readCode(typed);
    if (!read.ok) throw new Refusal(`${typed}: ${read.message}`, { field: 'codes' });
    return read.code;
  });
  const { rows } = await reader.query<{ id: string; code: string }>(
    'SELECT id, code FROM lot WHERE site_id = $1 AND code = ANY($2)',
    [siteId, wanted],
  );
  const missing = wanted.find((code) => !rows.some((row) => row.code === code));
  if (missing !== undefined) throw new Refusal(`There is no lot ${missing}.`, { field: 'codes' });
  return rows.map(({ id }) => id);
}

function refuseTooMany({ lots, slots }: PlacementInput): void {
  if (lots.length <= MOST_LOTS && slots.length <= MOST_SLOTS) return;
  const many = `${plural(lots.length, 'lot', 'lots')} and ${plural(slots.length, 'slot', 'slots')}`;
  throw new Refusal(`That would be ${many} at once. Tick the racks of fewer tanks, or choose fewer lots.`, {
    field: 'use',
  });
}
