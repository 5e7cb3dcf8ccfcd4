import type { Alert } from '../../alerts/alerts.ts';
import { addSetting, findLamp } from '../../farm/lamps/lamps.ts';
import type { Work } from '../../platform/change.ts';
import { readerOf, type SqlReader } from '../../platform/database/sql-reader.ts';
import { addDays, localDay } from '../../platform/days.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { dateWords } from '../../platform/words/times.ts';
import { planAcclimation } from '../../stock/acclimations/acclimations.ts';
import { beneathOf, readLampWithLots } from '../../stock/acclimations/draft-by-lamps.ts';
import { planLamps } from '../../stock/acclimations/lamp-steps.rules.ts';
import { type Stair, stairs } from './stairs.ts';
import type { Looking } from './things.ts';

/** Lamps turned down now, and the steps by which they go up again. */
export interface LampsOffer {
  doing: 'lamps';
  lampId: string;
  name: string;
  /** Per cent: now, and proposed. */
  from: number;
  to: number;
  /** The steps up, as people read and see them; null with the reason where none can be planned. */
  steps: { text: string; picture: string; to: number; startsOn: string } | null;
  noSteps: string;
}

/** Days that the lamps stay at the proposed setting before the first step up: as the alert says, a week. */
const firstStay = 7;

/** The lamps of an alert at the setting that all lots beneath can take; null where they are not that bright any more. */
export async function lampsOffer(
  { db, pool }: Service,
  alert: Alert,
  { now, timeZone, role }: Looking,
): Promise<LampsOffer | null> {
  const lamp = await findLamp(db, alert.subjectId);
  const { setting } = lamp;
  const to = alert.finding.limit.value;
  if (setting === null || setting.percent <= to) return null;
  const startsOn = addDays(localDay(now, timeZone), firstStay);
  const site = await db.system.findUniqueOrThrow({ where: { id: alert.systemId }, select: { siteId: true } });
  const plan =
    role === 'hand'
      ? null
      : await stepsUp(pool, { siteId: site.siteId, lampId: lamp.id, from: to, to: setting.percent, now });
  return {
    ...{ doing: 'lamps', lampId: lamp.id, name: lamp.name, from: setting.percent, to },
    steps: plan?.ok ? stepWords(plan, { from: setting.percent, to, startsOn, timeZone, now }) : null,
    noSteps: plan === null ? 'A manager plans the steps up.' : plan.ok ? '' : plan.refused,
  };
}

interface Up {
  siteId: string;
  lampId: string;
  /** From the lower setting to the higher one, per cent. */
  from: number;
  to: number;
  now: Date;
}

type StepsUp =
  | { ok: true; target: number; steps: { day: number; percent: number }[] }
  | { ok: false; refused: string };

/**
 * The steps from the lower setting up to the higher one, or as far as the kinds beneath can take at all: as they would be
 * planned once the lamps are turned down.
 */
async function stepsUp(reader: SqlReader, { siteId, lampId, from, to, now }: Up): Promise<StepsUp> {
  const lamp = await readLampWithLots(reader, siteId, lampId, now);
  if (lamp === null || lamp.percent === null || lamp.percent <= 0)
    return { ok: false, refused: 'Nobody has noted what the lamps are set to.' };
  const free = lamp.lots.filter(({ acclimation }) => acclimation === null);
  const factor = from / lamp.percent;
  const beneath = beneathOf(free, true, now).map((lot) => ({
    ...lot,
    dli: lot.dli * factor,
    par: lot.par * factor,
  }));
  if (beneath.length === 0)
    return { ok: false, refused: 'No steps up: the light of no free lot under them is known.' };
  const { above } = planLamps(beneath, from, to);
  const target = Math.min(to, ...above.map(({ percent }) => percent));
  if (target <= from)
    return {
      ok: false,
      refused: 'No steps up: more light than that does not suit all of the lots under them.',
    };
  return { ok: true, target, steps: planLamps(beneath, from, target).steps };
}

function stepWords(
  { steps, target }: Extract<StepsUp, { ok: true }>,
  {
    from,
    to,
    startsOn,
    timeZone,
    now,
  }: { from: number; to: number; startsOn: string; timeZone: string; now: Date },
): LampsOffer['steps'] {
  const days = steps.map(({ day, percent }) => ({ day: addDays(startsOn, Math.ceil(day)), percent }));
  const said = days.map(({ day, percent }) => `${percent} % ${dayIn(day, timeZone, now)}`);
  const shown: Stair[] = [
    { percent: from, day: '' },
    { percent: to, day: 'now' },
    ...days.slice(0, 4).map(({ day, percent }) => ({ percent, day: dayIn(day, timeZone, now) })),
  ];
  const text = `${to} % now, then ${said.slice(0, 4).join(', ')}${said.length > 4 ? `, and ${said.length - 4} more` : ''}. ${endWords(target, from)}`;
  return { text, picture: stairs(shown, text), to: target, startsOn };
}

/** Where the steps end, and why there. */
const endWords = (target: number, from: number) =>
  target < from
    ? `They end at ${target} %: more is too much for some of the lots.`
    : `They end at ${target} %, where the lamps are now.`;

const dayIn = (day: string, timeZone: string, now: Date) =>
  dateWords(day, timeZone).replace(` ${now.getUTCFullYear()}`, '');

/** Turns the lamps now and, where it is wished, plans the steps up. @throws Refusal */
export async function turnLamps(
  work: Work,
  {
    lampId,
    siteId,
    percent,
    up,
    timeZone,
  }: { lampId: string; siteId: string; percent: number; up: boolean; timeZone: string },
): Promise<{ planned: number | null }> {
  const lamp = await findLamp(work.tx, lampId);
  const before = lamp.setting?.percent ?? null;
  await addSetting(work, lampId, {
    ...{ percent, litHours: lamp.litHours, rampHours: lamp.rampHours },
    ...{ at: work.now, note: 'From the alert on too much light' },
  });
  if (!up || before === null || before <= percent) return { planned: null };
  const plan = await stepsUp(readerOf(work.tx), { siteId, lampId, from: percent, to: before, now: work.now });
  if (!plan.ok) throw new Refusal(`${plan.refused} Untick the steps.`, { field: 'up' });
  const startsOn = addDays(localDay(work.now, timeZone), firstStay);
  const means = { by: 'lamps' as const, lampId, percent: plan.target, without: [] };
  await planAcclimation(work, {
    siteId,
    name: '',
    reason: 'After too much light',
    startsOn,
    means,
    seen: null,
  });
  return { planned: plan.target };
}
