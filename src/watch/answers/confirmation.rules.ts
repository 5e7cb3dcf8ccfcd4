import type { OpenAlert } from '../../alerts/diff.rules.ts';
import { numberWords } from '../../platform/words/numbers.ts';
import { dateAtDay, dayOf } from '../../science/numeric/time.ts';
import type { SystemFacts } from '../facts/types.ts';
import { newKitTests } from '../rules/instruments/put-away.ts';
import { isPastUse } from '../rules/levels/kit-bias.ts';
import { lotName } from '../rules/shared/place-words.ts';
import { nameOf } from '../rules/shared/words.ts';
import type { Action, ActionKind } from './actions.ts';

/** What tells whether an act helped. */
export type Confirming = 'survey' | 'look' | 'test' | 'kit' | 'probe';

/**
 * Hours until the next test after an act; own choice by how fast each moves, no longer than one waits
 * after the first steps of fast trouble (common practice, no source). Everything else: two days.
 */
const testHours: Readonly<Record<string, number>> = {
  temperature: 2,
  oxygen: 1,
  ph: 4,
  salinity: 4,
  ammonia: 4,
  copper: 6,
  nitrite: 12,
  alkalinity: 24,
  nitrate: 72,
  phosphate: 72,
};
const dayHours = 24;
/** Own choice: as long as the rule on surveys waits; a look within two days; a kit is checked before the next tests. */
const confirmHours: Readonly<Record<Exclude<Confirming, 'test'>, number>> = {
  survey: 2 * dayHours,
  look: 2 * dayHours,
  kit: 2 * dayHours,
  probe: dayHours,
};

/** Hours after an act in which it should be confirmed; `code`: the quantity that the alert is about, where there is one. */
export const hoursUntil = (confirm: Confirming, code: string | null): number =>
  confirm === 'test' ? (testHours[code ?? ''] ?? 2 * dayHours) : confirmHours[confirm];

/** What is done to a kit. */
export const kitActs: readonly ActionKind[] = ['kit opened', 'kit put away', 'check'];

/** A kit of the same quantity as the alert's kit, which may be put away. */
export function isSameQuantity(
  { quantityCode, kind }: Action,
  { subject }: OpenAlert,
  facts: SystemFacts,
): boolean {
  const kit = [...facts.kits, ...facts.visitingKits].find(({ id }) => id === subject.id);
  return kind === 'kit opened' && kit !== undefined && kit.quantityCode === quantityCode;
}

/** An act about an alert, with what may confirm it. */
interface Confirmed {
  alert: OpenAlert;
  last: Action;
  facts: SystemFacts;
  actions: readonly Action[];
  about: ReadonlySet<string>;
  code: string | null;
}

/** When it was confirmed after the act; null while it was not. */
export function confirmedBy(confirm: Confirming, asked: Confirmed): Date | null {
  const { last, facts, actions, about, code, alert } = asked;
  const from = dayOf(last.at);
  const first = (days: readonly number[]) => {
    const day = days.find((one) => one > from);
    return day === undefined ? null : dateAtDay(day);
  };
  switch (confirm) {
    case 'test':
      return first((facts.readings.get(code ?? '') ?? []).map(({ day }) => day));
    case 'survey': {
      const days = racksOf(alert, facts).flatMap(({ surveys }) => surveys.map(({ day }) => day));
      const measured = first(days.sort((a, b) => a - b));
      return measured ?? (last.kind === 'said' ? surveyedBefore(asked, days) : null);
    }
    case 'look': {
      const told = lotsLeft(asked) ? about : new Set(facts.lots.map(({ id }) => id));
      return (
        actions.find(({ kind, at, subjectId }) => kind === 'look' && at > last.at && told.has(subjectId))
          ?.at ?? null
      );
    }
    case 'probe':
      return first(
        (facts.readings.get(probeQuantity(alert, facts)) ?? [])
          .filter(({ kitId }) => kitId !== alert.subject.id)
          .map(({ day }) => day),
      );
    case 'kit':
      return kitCheckedAt(asked);
  }
}

/**
 * The survey since the alert opened that whoever says that its steps were done made as one of them: it counts where nothing under
 * these lamps was turned or moved after it.
 */
function surveyedBefore({ alert, actions, about }: Confirmed, days: readonly number[]): Date | null {
  const newest = days.findLast((day) => day > dayOf(alert.openedAt));
  if (newest === undefined) return null;
  const after = actions.some(
    ({ kind, at, subjectId }) =>
      (kind === 'lamps' || kind === 'move') && about.has(subjectId) && dayOf(at) > newest,
  );
  return after ? null : dateAtDay(newest);
}

/** Whether a lot that the alert is about still stands here; of those that were set apart the others of their water tell. */
const lotsLeft = ({ alert: { subject, finding }, facts }: Confirmed): boolean =>
  facts.lots.some(({ id }) => id === subject.id || finding.lots.includes(id));

/** Tests of a standard that tell of a kit in use: in duplicate, as its alerts ask. */
const standardChecks = 2;

/** What was first done to the kits since the alert opened, beside checks. */
const kitChanged = ({ alert, actions, about, facts }: Confirmed): Action | undefined =>
  actions.find(
    (action) =>
      action.at > alert.openedAt &&
      action.kind !== 'check' &&
      kitActs.includes(action.kind) &&
      (about.has(action.subjectId) || isSameQuantity(action, alert, facts)),
  );

/** A kit that may stay in use is told of by as many checks as were asked for; one that is to be replaced, or was, by more. */
function checksNeeded(asked: Confirmed): number {
  const kit = asked.facts.kits.find(({ id }) => id === asked.alert.subject.id);
  const stays = kit === undefined || !isPastUse(kit, asked.last.at);
  return stays && kitChanged(asked) === undefined ? standardChecks : newKitTests;
}

/**
 * When a kit had its checks after what was done first (a kit opened or put away; else since the alert opened), and not
 * before what was done last; null while they are too few. Checks of the kit that was opened or checked count; where one
 * was put away, those of another of its quantity.
 */
function kitCheckedAt(asked: Confirmed): Date | null {
  const { alert, last, actions } = asked;
  const from = kitChanged(asked)?.at ?? alert.openedAt;
  // Whoever says that it was done says it of the kit that the alert is about.
  const kit = last.kind === 'said' ? (kitChanged(asked) ?? alert.subject.id) : last;
  const [kitId, isAway] =
    typeof kit === 'string' ? [kit, false] : [kit.subjectId, kit.kind === 'kit put away'];
  const code = last.kind === 'said' ? asked.code : last.quantityCode;
  const checks = actions.filter(
    ({ kind, at, subjectId, quantityCode }) =>
      kind === 'check' &&
      at > from &&
      (code === null || quantityCode === code) &&
      (subjectId === kitId) === !isAway,
  );
  const enough = checks[checksNeeded(asked) - 1]?.at;
  return enough === undefined || enough > last.at ? (enough ?? null) : last.at;
}

const probeQuantity = ({ subject }: OpenAlert, facts: SystemFacts) =>
  facts.probes.find(({ kitId }) => kitId === subject.id)?.quantityCode ?? '';

/** The racks whose light an alert is about. */
function racksOf({ subject, finding }: OpenAlert, facts: SystemFacts): SystemFacts['racks'] {
  const lots = facts.lots.filter((lot) => lot.id === subject.id || finding.lots.includes(lot.id));
  return facts.racks.filter(
    ({ id, lampId }) =>
      id === subject.id || lampId === subject.id || lots.some(({ rackId }) => rackId === id),
  );
}

/** What will confirm it, as it goes on after "until": "a light survey of Rack N3". */
export function confirmWords(confirm: Confirming, asked: Confirmed): string {
  const { alert, facts, code } = asked;
  switch (confirm) {
    case 'test':
      return code === null ? 'a test of the water' : `a test of ${nameOf(facts, code)}`;
    case 'survey': {
      const racks = racksOf(alert, facts).map(({ name }) => name);
      return racks.length === 0 ? 'a light survey' : `a light survey of ${racks.slice(0, 3).join(' or ')}`;
    }
    case 'look': {
      const codes = facts.lots.filter(({ id }) => id === alert.subject.id).map(lotName);
      if (codes.length > 0) return `a look at ${codes.join(', ')}`;
      return lotsLeft(asked) ? 'a look at its lots' : 'a look at the lots that are left';
    }
    case 'probe':
      return 'a test by hand beside the probe';
    case 'kit':
      return `${numberWords(checksNeeded(asked))} tests beside another kit, or of a standard`;
  }
}
