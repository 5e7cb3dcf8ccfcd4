import type { SqlReader } from '../../platform/database/sql-reader.ts';
import type { LampMeans } from './acclimations.schema.ts';
import { type AcclimationDraft, type DraftStep, type NoDraft, refuseLots } from './draft-by-slots.ts';
import { type Beneath, type LampPlan, planLamps } from './lamp-steps.rules.ts';
import { bearingOf, dimEndOf, type LotWithLight, paceOf, readLotsWithLight, usedHere } from './lots.ts';
import { strictestPace, usedTo } from './pace.rules.ts';

/** Lamps with their setting, and the lots beneath. */
export interface LampWithLots {
  id: string;
  name: string;
  /** Per cent; null where it was never noted. */
  percent: number | null;
  tankName: string;
  lots: LotWithLight[];
}

const lampQuery = `
  SELECT lamp.id, lamp.name, tank.name AS "tankName",
         (SELECT percent FROM lamp_setting WHERE lamp_id = lamp.id ORDER BY at DESC LIMIT 1) AS percent,
         coalesce((SELECT array_agg(DISTINCT lot_place.lot_id::text) FROM lot_place JOIN rack ON rack.id = lot_place.rack_id
                    WHERE rack.lamp_id = lamp.id), '{}') AS "lotIds"
    FROM lamp JOIN tank ON tank.id = lamp.tank_id JOIN system ON system.id = tank.system_id
   WHERE lamp.id = $1::uuid AND system.site_id = $2::uuid`;

/** Lamps of a site and the lots beneath them; null when there are none of this id. Ten queries. */
export async function readLampWithLots(
  reader: SqlReader,
  siteId: string,
  lampId: string,
  now: Date,
): Promise<LampWithLots | null> {
  const { rows } = await reader.query<Omit<LampWithLots, 'lots'> & { lotIds: string[] }>(lampQuery, [
    lampId,
    siteId,
  ]);
  const [lamp] = rows;
  if (lamp === undefined) return null;
  const { lotIds, ...rest } = lamp;
  return { ...rest, lots: await readLotsWithLight(reader, siteId, lotIds, now) };
}

/**
 * The lots whose light is known, as the planner of lamps sees them. One of which nobody knows what it is used to counts,
 * on the way up, as used to the dim end of its kind or to its light now, whichever is dimmer; on the way down as used to
 * its light now.
 */
export function beneathOf(lots: readonly LotWithLight[], brighter: boolean, now: Date): Beneath[] {
  return lots.flatMap((lot) => {
    const here = lot.light.now;
    if (here === null || lot.light.accustomed === null || here.dli <= 0 || here.par <= 0) return [];
    const dimmest = Math.min(here.dli, (dimEndOf([lot]) / here.par) * here.dli);
    const used = usedHere(lot, now);
    const known = used !== null && used > 0;
    const accustomed = known ? used : brighter ? dimmest : here.dli;
    return [{ ...bearingOf(lot, accustomed), known, dli: here.dli, par: here.parMax }];
  });
}

/** The ramp that a wish for lamps would become now. */
export async function draftByLamps(
  reader: SqlReader,
  siteId: string,
  means: LampMeans,
  now: Date,
): Promise<AcclimationDraft | NoDraft> {
  const lamp = await readLampWithLots(reader, siteId, means.lampId, now);
  if (lamp === null) return { ok: false, field: 'lamp', refused: 'Choose lamps of the list.' };
  const { percent } = lamp;
  if (percent === null || percent <= 0)
    return { ok: false, field: 'percent', refused: 'Note first what the lamps are set to now.' };
  if (percent === means.percent)
    return {
      ok: false,
      field: 'percent',
      refused: `They are at ${percent} % already. Enter another setting.`,
    };
  const elsewhere = lamp.lots.filter((lot) => lot.acclimation !== null);
  const staying = lamp.lots.filter((lot) => !means.without.includes(lot.id) && lot.acclimation === null);
  const trouble = refuseLots(staying);
  if (trouble !== null)
    return {
      ...trouble,
      field: 'percent',
      refused:
        'No lot under these lamps is free to be acclimated: turn them at once, or end the plans the lots are in.',
    };
  const beneath = beneathOf(staying, means.percent > percent, now);
  if (beneath.length === 0)
    return {
      ok: false,
      field: 'percent',
      refused: 'The light of no lot under them is known. Measure the racks first.',
    };
  const plan = planLamps(beneath, percent, means.percent);
  const [above] = plan.above;
  if (above !== undefined) return { ok: false, field: 'percent', refused: aboveWords(plan) };
  const away = lamp.lots.filter((lot) => means.without.includes(lot.id));
  const known = new Set(beneath.map((lot) => lot.lotId));
  const lots = staying.filter((lot) => known.has(lot.id));
  return draftOf(lamp, percent, means, {
    plan,
    beneath,
    lots,
    away,
    elsewhere,
    dark: staying.length - lots.length,
  });
}

/** Up to six codes, and how many more. */
const namesOf = (lots: readonly { code: string }[]): string => {
  const named = lots.slice(0, 6).map((one) => one.code);
  return `${named.join(', ')}${lots.length > 6 ? ` and ${lots.length - 6} more` : ''}`;
};

const aboveWords = ({ above }: LampPlan) => {
  const least = Math.min(...above.map((one) => one.percent));
  return `That puts ${namesOf(above)} above what their kind can ever take. Up to ${least} % it does not; or move them away first and tick them below.`;
};

interface Found {
  plan: LampPlan;
  beneath: Beneath[];
  lots: LotWithLight[];
  away: LotWithLight[];
  elsewhere: LotWithLight[];
  dark: number;
}

function draftOf(lamp: LampWithLots, from: number, means: LampMeans, found: Found): AcclimationDraft {
  const { plan, beneath, lots } = found;
  const brightest = beneath.reduce((a, b) => (b.dli > a.dli ? b : a));
  const scale = (percent: number) => percent / from;
  const steps = plan.steps.map(
    (step): DraftStep => ({
      position: step.position,
      day: Math.ceil(step.day),
      dli: brightest.dli * scale(step.percent),
      par: brightest.par * scale(step.percent),
      lotId: null,
      code: '',
      slotIds: [],
      place: `${lamp.name} to ${step.percent} %`,
      gap: null,
      times: null,
      lampId: lamp.id,
      percent: step.percent,
    }),
  );
  return {
    ok: true,
    purpose: means.percent >= from ? 'brighter' : 'dimmer',
    received: 'here',
    lots,
    pace: strictestPace(lots.map((lot) => paceOf(lot.care))),
    fromDli: Math.min(...beneath.map((lot) => lot.accustomed)),
    targetDli: brightest.dli * scale(means.percent),
    target: `${lamp.name} at ${means.percent} %`,
    steps: withTimes(steps, beneath, from),
    days: Math.ceil(plan.days),
    notes: notesOf(found, means.percent > from),
  };
}

/** The largest step that any lot is put to, each time, of those of which it is known what they are used to. */
function withTimes(steps: readonly DraftStep[], beneath: readonly Beneath[], from: number): DraftStep[] {
  const used = beneath.map((lot) => lot.accustomed);
  const told = (i: number) => beneath[i]?.known === true;
  let [day, percent] = [0, from];
  return steps.map((step) => {
    for (const [i, lot] of beneath.entries())
      used[i] = usedTo(used[i] as number, (lot.dli * percent) / from, step.day - day, lot.adaptationDays);
    [day, percent] = [step.day, step.percent ?? percent];
    const times = beneath
      .map((lot, i) => (lot.dli * percent) / from / (used[i] as number))
      .filter((_, i) => told(i));
    if (times.length === 0) return { ...step, times: null };
    return { ...step, times: percent >= from ? Math.max(...times) : Math.min(...times) };
  });
}

function notesOf({ plan, beneath, away, elsewhere, dark }: Found, brighter: boolean): string[] {
  const notes: string[] = [];
  const unknown = beneath.filter(({ known }) => !known);
  if (unknown.length > 0)
    notes.push(
      `What ${namesOf(unknown)} ${unknown.length === 1 ? 'is' : 'are'} used to is not known: ${brighter ? 'the steps begin as for the dim end of the kind' : 'the light now is taken'}. Look before each step.`,
    );
  if (plan.slow !== null)
    notes.push(
      `${plan.slow.codes.slice(0, 6).join(', ')}${plan.slow.codes.length > 6 ? ` and ${plan.slow.codes.length - 6} more` : ''} make it slow: without them it would be ${plan.slow.steps} ${plan.slow.steps === 1 ? 'step' : 'steps'} over ${Math.ceil(plan.slow.days)} days. Move them away and tick them below, or go at their pace.`,
    );
  if (away.length > 0)
    notes.push(`To be moved away before the first step: ${away.map((lot) => lot.code).join(', ')}.`);
  if (elsewhere.length > 0)
    notes.push(
      `In another acclimation, and not counted here: ${elsewhere.map((lot) => lot.code).join(', ')}. Turning the lamps changes their light as well; their own steps are checked against it when they are due.`,
    );
  if (dark > 0)
    notes.push(
      `${dark} ${dark === 1 ? 'lot is' : 'lots are'} where light was never measured: the effect on ${dark === 1 ? 'it' : 'them'} is not known.`,
    );
  notes.push(
    'Worked out in proportion to the setting; most lamps follow it only within some per cent. Measure between the steps.',
  );
  return notes;
}
