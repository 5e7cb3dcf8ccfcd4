import { advised, again, correct, down } from '../../../alerts/advice.ts';
import {
  type Evidence,
  type Finding,
  type FindingKey,
  mostUrgent,
  plainFinding,
} from '../../../alerts/finding.ts';
import { numberWords } from '../../../platform/words/numbers.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import type { LampFact, LotFact, SystemFacts } from '../../facts/types.ts';
import { lotsWords } from '../shared/place-words.ts';
import { dateOfDay, figure } from '../shared/words.ts';
import { clearExcess, type LightStress, type StressedLot } from './light-dose.ts';

/** A setting older than this is no longer what changed. */
const recentDays = 45;
/** Lamps are turned in steps of this many per cent. */
const settingStep = 5;
const fewest = 2;

/** Lamps that were turned, and since when. */
export interface LampChange {
  lamp: LampFact;
  settingId: string;
  at: string;
  note: string;
  day: number;
  from: number;
  to: number;
}

/**
 * The last time within 45 days that these lamps were turned up from less than they stand at now: turned back only in part
 * they still stand higher.
 */
export function lastTurnedUp({ settings, ...lamp }: LampFact, today: number): LampChange | null {
  const to = settings.at(-1)?.percent;
  const index = settings.findLastIndex(({ percent }, i) => {
    const from = settings[i - 1]?.percent;
    return from !== undefined && to !== undefined && percent > from && to > from;
  });
  const [before, up] = [settings[index - 1], settings[index]];
  if (to === undefined || before === undefined || up === undefined || today - up.day > recentDays)
    return null;
  const { id, at, note, day } = up;
  return { lamp: { settings, ...lamp }, settingId: id, at, note, day, from: before.percent, to };
}

/** The last time within 45 days that these lamps were turned up or down. */
export function lastLampChange(lamp: LampFact, today: number): LampChange | null {
  const { settings } = lamp;
  const index = settings.findLastIndex(({ percent }, i) => percent !== settings[i - 1]?.percent);
  const [before, now] = [settings[index - 1], settings[index]];
  if (before === undefined || now === undefined || today - now.day > recentDays) return null;
  const { id, at, note, day } = now;
  return { lamp, settingId: id, at, note, day, from: before.percent, to: now.percent };
}

/** The key under which lamps that were turned up explain what stands beneath them. */
export const lampBrightenedKey = (lampId: string): FindingKey => ({
  rule: 'too-much-light',
  subject: { type: 'lamp', id: lampId },
  facet: '',
});

/** The key under which lamps explain light that fell beneath them: turned down at once, or fading as they get old. */
export const lampDimmedKey = (lampId: string, facet: 'down' | 'fading'): FindingKey => ({
  rule: 'light-step',
  subject: { type: 'lamp', id: lampId },
  facet,
});

/** Lots and the light they stand in. */
interface Beneath {
  /** All of them; null where light or care is not known. */
  lit: readonly { lot: LotFact; stress: LightStress | null }[];
  /** Those in more light than they bear, and by how much it opens an alert. */
  stressed: readonly StressedLot[];
  opens: number;
}

/** One finding for each lamps whose turning up put several lots in too much light, and which lots it explains. */
export function lampGroups(
  facts: SystemFacts,
  { lit, stressed, opens }: Beneath,
  now: Date,
): { findings: Finding[]; causeOf: (one: StressedLot) => FindingKey[] } {
  const today = dayOf(now);
  const groups = facts.lamps.flatMap((lamp) => {
    const turned = lastTurnedUp(lamp, today);
    if (turned === null) return [];
    const lots = stressed.filter(({ lot, stress }) => lot.lampId === lamp.id && stress.ratio > 1.02);
    if (lots.length < fewest) return [];
    const beneath = lit.filter(({ lot }) => lot.lampId === lamp.id);
    const fires = lots.some(({ status }) => status === 'fires') || clearestKind(beneath) >= opens;
    return [{ turned, lots, fires }];
  });
  const explained = new Set(groups.flatMap(({ lots }) => lots));
  return {
    findings: groups.map(({ turned, lots, fires }) => lampFinding(facts, turned, lots, fires)),
    causeOf: (one) =>
      explained.has(one) && one.lot.lampId !== null ? [lampBrightenedKey(one.lot.lampId)] : [],
  };
}

/**
 * The light over what a kind bears, by the mean of all its lots beneath the lamps, with 9 chances in 10: where each lot's
 * survey leaves the step open, many together may not. The highest over the kinds that had a step.
 */
function clearestKind(beneath: Beneath['lit']): number {
  const steps = beneath.filter(({ stress }) => stress?.by === 'step');
  const kinds = Map.groupBy(steps, ({ lot }) => lot.kindIds[0] ?? lot.kindName);
  const means = [...kinds.values()].map((lots) => {
    const mean = (of: (stress: LightStress) => number) =>
      lots.reduce((sum, { stress }) => sum + (stress === null ? 0 : of(stress)), 0) / lots.length;
    return clearExcess(
      mean(({ excess }) => excess),
      Math.sqrt(mean(({ doubt }) => doubt ** 2) / lots.length),
    );
  });
  return Math.max(0, ...means);
}

function lampFinding(
  facts: SystemFacts,
  turned: LampChange,
  lots: readonly StressedLot[],
  fires: boolean,
): Finding {
  const { lamp, from, to, day } = turned;
  const shown = lots.filter(({ shows }) => shows !== null).length;
  const worst = Math.max(...lots.map(({ stress }) => stress.excess));
  const bearable = settingFor(to, worst);
  const percentWords = (value: number) => `${numberWords(value)} %`;
  return {
    ...plainFinding,
    rule: 'too-much-light',
    subject: { type: 'lamp', id: lamp.id },
    systemId: facts.systemId,
    href: `/lamps/${lamp.id}/settings`,
    status: fires ? 'fires' : 'stays',
    severity: mostUrgent(lots.map(({ severity }) => severity)),
    score: Math.max(...lots.map(({ score }) => score)),
    title: `Lamps “${lamp.name}”: ${lotsWords(lots.length)} ${lots.length === 1 ? 'gets' : 'get'} too much light`,
    numbers: `${percentWords(from)} to ${percentWords(to)} on ${dateOfDay(day, facts)}${shown === 0 ? '' : `; ${shown} ${shown === 1 ? 'lot shows' : 'lots show'} it`}`,
    number: figure('Lamps now', to, 0, '%'),
    large: { text: figure('', to, 0).text, unit: '%', more: `was ${percentWords(from)}` },
    began: { from: turned.at, to: turned.at },
    limit: {
      ...figure('Safe setting for all these lots now', bearable, 0, '%'),
      source:
        'The lowest of the lots’ own limits: ceiling of the kind, or what each is used to times the kind’s step.',
    },
    figures: [
      { label: 'Lots too bright', text: numberWords(lots.length) },
      { label: 'Worst of them', text: `${numberWords(worst, 2)} times what is safe` },
      { label: 'Lots that show it', text: numberWords(shown) },
    ],
    why: 'The lamps were turned up too far in one step. That is the cause, not the lots.',
    ...advised(
      correct(
        `Turn the lamps down to ${percentWords(bearable)} today, then up by small steps, each held for a week.`,
        down('light'),
      ),
      again('Measure the light at one slot after turning them.'),
    ),
    evidence: [lampChangeEvidence(turned)],
  };
}

/** A turn of the lamps as evidence. */
export const lampChangeEvidence = ({ settingId, at, note, from, to }: LampChange): Evidence => ({
  kind: 'lamp setting',
  id: settingId,
  at,
  text: `Turned from ${numberWords(from)} % to ${numberWords(to)} %`,
  note,
});

/** The setting, in whole steps, at which the worst of the lots is just within what it can take. */
function settingFor(percent: number, worst: number): number {
  return Math.max(settingStep, Math.floor(percent / worst / settingStep) * settingStep);
}
