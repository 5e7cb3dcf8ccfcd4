import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { dailyLightMolM2 } from '../../science/light.ts';
import type { Pace } from '../light/pace.rules.ts';
import type { PlaceMeans, Received } from './acclimations.schema.ts';
import { placeOf, placesFor, readShelves, type Shelves, standsAt } from './candidate-slots.ts';
import { bearingOf, dimEndOf, type LotWithLight, paceOf, readLotsWithLight, usedHere } from './lots.ts';
import { strictestPace } from './pace.rules.ts';
import { planRecovery } from './recovery.rules.ts';
import { type Goal, type LotInPlan, planBySlots, type SlotStep } from './slot-steps.rules.ts';

/** A step before it is planned; `day` counts from the first day. */
export interface DraftStep {
  position: number;
  day: number;
  dli: number;
  par: number | null;
  lotId: string | null;
  code: string;
  slotIds: readonly string[];
  /** "Rack S2, A3", "North bars to 72 %", or why there is no place. */
  place: string;
  gap: SlotStep['gap'];
  /** Times what the lot is then used to. */
  times: number | null;
  lampId: string | null;
  percent: number | null;
}

/** What would be planned. */
export interface AcclimationDraft {
  ok: true;
  purpose: 'brighter' | 'dimmer' | 'recovery';
  received: Received;
  lots: LotWithLight[];
  pace: Pace;
  fromDli: number;
  targetDli: number;
  /** Where they go: "about 120 µmol/(m² s)", "Rack S2, A3", "North bars at 80 %". */
  target: string;
  steps: DraftStep[];
  /** Days from the first step to the last. */
  days: number;
  /** What a person should know of it, in sentences. */
  notes: string[];
}

/** What was wished cannot be planned, and the field it belongs to. */
export interface NoDraft {
  ok: false;
  field: string;
  refused: string;
}

const no = (field: string, refused: string): NoDraft => ({ ok: false, field, refused });

/** Ten hours of full light, where nobody says how long. */
const USUAL_HOURS = 10;

/** The plan that a wish for places would become now. A fixed number of queries. */
export async function draftByPlaces(
  reader: SqlReader,
  siteId: string,
  means: PlaceMeans,
  now: Date,
): Promise<AcclimationDraft | NoDraft> {
  const lots = await readLotsWithLight(reader, siteId, means.lotIds, now);
  const trouble = refuseLots(lots);
  if (trouble !== null) return trouble;
  const systemIds = systemsOf(lots, means);
  if (systemIds.length !== 1)
    return no('system', 'Choose the system to look for places in: these lots are in several, or in none.');
  const shelves = await readShelves(reader, systemIds, now);
  const goal = goalOf(shelves, lots, means);
  if ('refused' in goal) return goal;
  return draft(shelves, lots, means, goal, now);
}

/** @returns what is wrong with the lots, for either way of planning */
export function refuseLots(lots: readonly LotWithLight[]): NoDraft | null {
  if (lots.length === 0) return no('lots', 'Choose the lots to acclimate.');
  const busy = lots.find((lot) => lot.acclimation !== null);
  if (busy !== undefined)
    return no(
      'lots',
      `${busy.code} is in “${busy.acclimation?.name}” already. End that plan first, or leave it out.`,
    );
  const gone = lots.find((lot) => lot.pieces === 0);
  return gone === undefined ? null : no('lots', `No pieces of ${gone.code} are left.`);
}

function systemsOf(lots: readonly LotWithLight[], { systemId }: PlaceMeans): string[] {
  if (systemId !== null) return [systemId];
  return [...new Set(lots.flatMap((lot) => lot.systemId ?? []))];
}

function goalOf(shelves: Shelves, lots: readonly LotWithLight[], means: PlaceMeans): Goal | NoDraft {
  const ceilings = lots.flatMap((lot) => {
    const most = lot.care.par_ceiling?.high ?? null;
    return most === null ? [] : [{ code: lot.code, most }];
  });
  const tooBright = (par: number) => ceilings.find(({ most }) => par > most * (1 + 1e-9));
  if (means.targetSlotIds.length > 0) return placeGoal(shelves, lots, means, tooBright);
  if (means.targetPar === null) return no('targetPar', 'Enter the light to go to, or choose a place for it.');
  const over = tooBright(means.targetPar);
  if (over !== undefined) return no('targetPar', ceilingWords(over, means.targetPar));
  return { dli: means.targetPar * dailyPerPar(shelves, means.targetPar), place: null };
}

const ceilingWords = ({ code, most }: { code: string; most: number }, par: number) =>
  `${code} can take ${Math.round(most)} µmol/(m² s) at most, and ${Math.round(par)} is above that. Choose a dimmer light, or leave it out.`;

function placeGoal(
  shelves: Shelves,
  lots: readonly LotWithLight[],
  { targetSlotIds }: PlaceMeans,
  tooBright: (par: number) => { code: string; most: number } | undefined,
): Goal | NoDraft {
  const slots = shelves.slots.filter((slot) => targetSlotIds.includes(slot.id));
  if (lots.length > 1)
    return no('targetPar', 'Several lots go to a light, not to one place. Enter the light.');
  if (slots.length < targetSlotIds.length || slots.length === 0)
    return no(
      'targetPar',
      'That place is in another system, or its light was never measured. Choose another.',
    );
  const taken = slots.find((slot) => slot.lot !== null && slot.lot.id !== lots[0]?.id);
  if (taken !== undefined) return no('targetPar', `${taken.lot?.code} is there. Choose a free place.`);
  if (slots.some((slot) => shelves.promised.has(slot.id)))
    return no('targetPar', 'That place is promised to another lot by a plan. Choose another.');
  const place = placeOf(shelves, slots);
  const over = tooBright(place.parMax);
  return over === undefined ? { dli: place.dli, place } : no('targetPar', ceilingWords(over, place.parMax));
}

/** Daily light for each umol/(m2 s), as at the slot whose light is nearest to that. */
function dailyPerPar({ slots }: Shelves, par: number): number {
  const lit = slots.filter((slot) => slot.light.par > 0);
  const [nearest] = lit.sort((a, b) => Math.abs(a.light.par - par) - Math.abs(b.light.par - par));
  return nearest === undefined ? dailyLightMolM2(1, USUAL_HOURS) : nearest.light.dli / nearest.light.par;
}

/** What each lot counts as used to; null where that is not known. */
function usedTo(
  shelves: Shelves,
  lot: LotWithLight,
  means: PlaceMeans,
  dimEnd: number,
  now: Date,
): number | null {
  if (means.received === 'here') return usedHere(lot, now);
  if (means.received === 'unknown') {
    const start = means.fromPar ?? dimEnd;
    return start * dailyPerPar(shelves, start);
  }
  return means.fromPar === null ? null : dailyLightMolM2(means.fromPar, means.fromHours ?? USUAL_HOURS);
}

/** Each stay lasts so many times as long where the light before is not known (own choice). */
const UNKNOWN_STAY = 1.5;

function draft(
  shelves: Shelves,
  lots: LotWithLight[],
  means: PlaceMeans,
  goal: Goal,
  now: Date,
): AcclimationDraft | NoDraft {
  const dimEnd = dimEndOf(lots);
  const together = new Set(lots.map((lot) => lot.id));
  const used = lots.map((lot) => usedTo(shelves, lot, means, dimEnd, now));
  const unknown = lots.filter((_, i) => used[i] === null);
  if (unknown.length > 0)
    return no('received', means.received === 'here' ? unknownWords(unknown) : 'Enter the light before.');
  const lotsInPlan = lots.map(
    (lot, i): LotInPlan => ({
      ...bearingOf(lot, used[i] as number),
      here: standsAt(shelves, lot),
      places: placesFor(shelves, lot, together),
    }),
  );
  const usual = strictestPace(lots.map((lot) => paceOf(lot.care)));
  const pace =
    means.received === 'unknown' ? { ...usual, dwellDays: Math.ceil(usual.dwellDays * UNKNOWN_STAY) } : usual;
  const recovers = means.purpose === 'recovery';
  const plan = recovers
    ? planRecovery(lotsInPlan, dimEnd * dailyPerPar(shelves, dimEnd), goal, pace)
    : planBySlots(lotsInPlan, goal, { pace, received: receivedAs(means.received) });
  if (plan.steps.length === 0)
    return no(
      'targetPar',
      lots.length === 1
        ? 'It gets that light already: no steps are needed.'
        : 'They get that light already: no steps are needed.',
    );
  const from = Math.min(...(used as number[]));
  return {
    ok: true,
    purpose: recovers ? 'recovery' : goal.dli >= from ? 'brighter' : 'dimmer',
    received: means.received,
    lots,
    pace: recovers ? { ...pace, dwellDays: pace.dwellDays * 2 } : pace,
    fromDli: from,
    targetDli: goal.dli,
    target: goal.place?.name ?? `${Math.round(means.targetPar ?? 0)} µmol/(m² s)`,
    steps: plan.steps.map((step) => stepOf(step)),
    days: Math.ceil(plan.days),
    notes: notesOf(lots, means, plan.stranded, {
      start: means.fromPar ?? dimEnd,
      stated: means.fromPar !== null,
    }),
  };
}

/** A plan is never worked out from a light that nobody knows. */
function unknownWords(lots: readonly LotWithLight[]): string {
  const say = 'Say what is known of the light before; where nothing is, the plan begins at the dimmest step.';
  const dark = lots.filter(({ light }) => light.accustomed === null);
  if (dark.length === lots.length) return `The light of ${codes(lots)} here was never measured. ${say}`;
  return `What ${codes(lots)} ${lots.length === 1 ? 'is' : 'are'} used to is not known yet: ${lots.length === 1 ? 'its' : 'their'} light here was not measured for long enough. ${say}`;
}

const receivedAs = (received: Received) =>
  received === 'here' || received === 'unknown' ? received : ('elsewhere' as const);

const codes = (lots: readonly { code: string }[]) => lots.map((lot) => lot.code).join(', ');

function stepOf(step: SlotStep): DraftStep {
  const { place, gap, accustomedBefore, ...rest } = step;
  return {
    ...rest,
    day: Math.ceil(step.day),
    slotIds: place?.slotIds ?? [],
    place: place?.name ?? '',
    gap,
    par: step.par,
    times: step.dli / accustomedBefore,
    lampId: null,
    percent: null,
  };
}

function notesOf(
  lots: readonly LotWithLight[],
  { received, purpose }: PlaceMeans,
  stranded: readonly string[],
  { start, stated }: { start: number; stated: boolean },
): string[] {
  const notes: string[] = [];
  if (received === 'unknown')
    notes.push(
      `The light before is not known. The plan starts at ${Math.round(start)} µmol/(m² s), ${stated ? 'the low start that was chosen' : `the dim end of ${lots.length === 1 ? 'its kind' : 'their kinds'}`}, and counts ${lots.length === 1 ? 'it' : 'them'} as used to no more. Each stay is half as long again.`,
    );
  if (received === 'stated')
    notes.push(
      'The start is what the sender says of the light, not a measurement. Watch the first step closely.',
    );
  if (lots.length > 1) notes.push(slowestWords(lots));
  if (stranded.length > 0) notes.push(`${stranded.join(', ')}: the light is not reached within 80 stays.`);
  if (purpose === 'recovery')
    notes.push(
      'A bleached coral goes to the dimmer place now. It is raised only after two looks at it on two days that found it well; recovery takes months, and some still die.',
    );
  return notes;
}

/** Which lots set the pace of all. */
function slowestWords(lots: readonly LotWithLight[]): string {
  const least = Math.min(...lots.map((lot) => paceOf(lot.care).stepRatio));
  const slow = lots.filter((lot) => paceOf(lot.care).stepRatio === least);
  if (slow.length === lots.length) return 'All can take the same step.';
  return `${slow.length > 6 ? `${slow.length} of them` : codes(slow)} can take the smallest step and set the pace of all.`;
}
