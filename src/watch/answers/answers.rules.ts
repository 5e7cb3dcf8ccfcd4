import type { OpenAlert } from '../../alerts/diff.rules.ts';
import type { Answer } from '../../alerts/finding.ts';
import { numberWords } from '../../platform/words/numbers.ts';
import { dateAtDay, dayOf, hourMs } from '../../science/numeric/time.ts';
import type { SystemFacts } from '../facts/types.ts';
import { newKitTests } from '../rules/instruments/put-away.ts';
import { lotName } from '../rules/shared/place-words.ts';
import { nameOf } from '../rules/shared/words.ts';
import type { Action, ActionKind } from './actions.ts';

/** What tells whether an act helped. */
type Confirming = 'survey' | 'look' | 'test' | 'kit' | 'probe';

interface Remedy {
  /** What answers an alert of the rule. What people do every day or week anyway does not. */
  by: readonly ActionKind[];
  confirm: Confirming;
}

const light: Remedy = { by: ['lamps', 'move'], confirm: 'survey' };
const place: Remedy = { by: ['move', 'flow'], confirm: 'look' };
const plan: readonly ActionKind[] = ['correction', 'routine', 'mended', 'serviced', 'event'];
const water: Remedy = { by: ['dose', 'water change', 'switched off', 'running', ...plan], confirm: 'test' };
const slow: Remedy = { by: plan, confirm: 'test' };

/** By rule; a rule that ends with the act itself (overdue work, what is off, a fault, a survey) needs none. */
const remedies: Readonly<Record<string, Remedy>> = {
  'too-much-light': light,
  'too-little-light': light,
  'light-step': light,
  'jet-on-flesh': place,
  'flow-unsuited': place,
  'silt-risk': place,
  'loose-in-flow': place,
  'neighbours-in-reach': place,
  'condition-noted': { by: ['move', 'lamps'], confirm: 'look' },
  recovering: { by: ['move', 'lamps'], confirm: 'look' },
  'out-of-band': water,
  ammonia: water,
  overdose: { by: ['water change', 'correction stopped', 'switched off', ...plan], confirm: 'test' },
  precipitation: { by: ['correction stopped', 'switched off', ...plan], confirm: 'test' },
  saturation: slow,
  'heat-stress': { by: ['switched off', 'running', 'mended', 'serviced', 'event'], confirm: 'test' },
  'alkalinity-falling': { by: ['dose', 'running', ...plan], confirm: 'test' },
  'alkalinity-unsteady': slow,
  'nitrate-creep': slow,
  'nitrate-level': slow,
  'demand-changed': slow,
  'calcium-alkalinity': slow,
  'kit-biased': { by: ['kit put away', 'kit opened', 'check'], confirm: 'kit' },
  'kit-unfit': { by: ['kit put away', 'kit opened', 'check'], confirm: 'kit' },
  'probe-unwell': { by: ['check', 'kit put away'], confirm: 'probe' },
};

/** Where work of a kind is planned to come again, doing it is no answer to an alert. */
const planned: Partial<Record<ActionKind, string>> = { dose: 'dose', 'water change': 'water_change' };

/** Of what an alert on water tells: the facet, where it is a quantity, else the rule's own. */
const quantityOf: Readonly<Record<string, string>> = {
  'alkalinity-falling': 'alkalinity',
  'alkalinity-unsteady': 'alkalinity',
  'demand-changed': 'alkalinity',
  'calcium-alkalinity': 'calcium',
  precipitation: 'alkalinity',
  saturation: 'alkalinity',
  'nitrate-creep': 'nitrate',
  'nitrate-level': 'nitrate',
  ammonia: 'ammonia',
  'heat-stress': 'temperature',
  'sinking-fast': 'oxygen',
};

/**
 * Hours until the next test after an act; own choice by how fast each moves, no longer than the reference on fast trouble
 * waits after its first steps. Everything else: two days.
 */
const testHours: Readonly<Record<string, number>> = {
  temperature: 2,
  pH: 4,
  ph: 4,
  salinity: 4,
  ammonia: 4,
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
/**
 * What was done last about an alert since it opened, and what will confirm it; null where nothing was done that answers it.
 * `actions`: all of the system, oldest first.
 */
export function answerTo(
  alert: OpenAlert,
  facts: SystemFacts,
  actions: readonly Action[],
  now: Date,
): Answer | null {
  const remedy = remedies[alert.rule];
  if (remedy === undefined) return null;
  const code = quantityOf[alert.rule] ?? (facts.quantities.has(alert.facet) ? alert.facet : null);
  const about = subjectsOf(alert, facts, code);
  const last = actions.findLast(
    (action) => action.at > alert.openedAt && answers(action, { alert, remedy, about, facts, code }),
  );
  if (last === undefined) return null;
  const moved = last.kind === 'move' && remedy.confirm === 'survey';
  const confirm = moved ? 'look' : remedy.confirm;
  const hours = confirm === 'test' ? (testHours[code ?? ''] ?? 2 * dayHours) : confirmHours[confirm];
  const dueAt = new Date(last.at.getTime() + hours * hourMs);
  const confirmedAt = confirmedBy(confirm, { alert, last, facts, actions, about, code });
  return {
    what: actionWords(last, facts),
    by: last.who ?? '',
    at: last.at.toISOString(),
    noted: last.kind === 'said',
    confirm: confirmWords(confirm, alert, facts, code),
    dueAt: dueAt.toISOString(),
    confirmedAt: confirmedAt?.toISOString() ?? null,
    overdue: confirmedAt === null && dueAt <= now,
  };
}

/** The keys of all that an act may be done to in answer to an alert. */
function subjectsOf(alert: OpenAlert, facts: SystemFacts, code: string | null): ReadonlySet<string> {
  const { subject, id, finding } = alert;
  const lots = facts.lots.filter((lot) => lot.id === subject.id || finding.lots.includes(lot.id));
  const rack = facts.racks.find((one) => one.id === subject.id);
  const around = lots.flatMap(({ lampId, rackId }) => [lampId, rackId]);
  const kits = [...facts.kits, ...facts.visitingKits].filter(({ quantityCode }) => quantityCode === code);
  return new Set(
    [
      id,
      subject.id,
      facts.systemId,
      ...lots.map((lot) => lot.id),
      ...finding.lots,
      ...around,
      rack?.lampId,
      ...kits.map((kit) => kit.id),
    ].filter((one) => one != null),
  );
}

interface Match {
  alert: OpenAlert;
  remedy: Remedy;
  about: ReadonlySet<string>;
  facts: SystemFacts;
  code: string | null;
}

const kitActs: readonly ActionKind[] = ['kit opened', 'kit put away', 'check'];
/** What belongs to lamps, a lot, a rack: done elsewhere it is no answer. */
const ofThing: readonly ActionKind[] = ['lamps', 'move', 'flow', 'said'];
const heats: readonly string[] = [
  'heating',
  'cooling',
  'heater',
  'chiller',
  'all_flow',
  'return_pump',
  'light',
];
/** What puts something into the water: a service of anything else is no answer to an alert on its chemistry. */
const doses: readonly string[] = ['doser', 'reactor'];
const ofEquipment: readonly ActionKind[] = ['switched off', 'running', 'serviced'];

function answers(action: Action, { alert, remedy, about, facts, code }: Match): boolean {
  const { kind, subjectId, quantityCode } = action;
  if (kind === 'said') return subjectId === alert.id;
  if (!remedy.by.includes(kind)) return false;
  if (kitActs.includes(kind)) return subjectId === alert.subject.id || isSameQuantity(action, alert, facts);
  if (ofThing.includes(kind)) return about.has(subjectId) && !isSameLamps(action);
  if (ofEquipment.includes(kind))
    return (code === 'temperature' ? heats : doses).includes(quantityCode ?? '');
  if (kind === 'dose' && isDosedAsBefore(alert, facts, code)) return false;
  const work = planned[kind];
  if (work !== undefined && facts.routines.some((routine) => routine.work === work)) return false;
  return quantityCode === null || code === null || quantityCode === code;
}

/** What was dosed in the week before the alert as well is no answer to it; own choice. */
const habitDays = 7;

function isDosedAsBefore({ openedAt }: OpenAlert, { doses }: SystemFacts, code: string | null): boolean {
  const opened = dayOf(openedAt);
  return doses.some(
    ({ day, quantityCode }) => quantityCode === code && day < opened && day > opened - habitDays,
  );
}

const isSameLamps = ({ kind, amount, before }: Action) => kind === 'lamps' && amount === before;

/** A kit of the same quantity as the alert's kit, which may be put away. */
function isSameQuantity({ quantityCode, kind }: Action, { subject }: OpenAlert, facts: SystemFacts): boolean {
  const kit = [...facts.kits, ...facts.visitingKits].find(({ id }) => id === subject.id);
  return kind === 'kit opened' && kit !== undefined && kit.quantityCode === quantityCode;
}

interface Confirmed {
  alert: OpenAlert;
  last: Action;
  facts: SystemFacts;
  actions: readonly Action[];
  about: ReadonlySet<string>;
  code: string | null;
}

/** When it was confirmed after the act; null while it was not. */
function confirmedBy(confirm: Confirming, asked: Confirmed): Date | null {
  const { last, facts, actions, about, code, alert } = asked;
  const from = dayOf(last.at);
  const first = (days: readonly number[]) => {
    const day = days.find((one) => one > from);
    return day === undefined ? null : dateAtDay(day);
  };
  switch (confirm) {
    case 'test':
      return first((facts.readings.get(code ?? '') ?? []).map(({ day }) => day));
    case 'survey':
      return first(
        racksOf(alert, facts)
          .flatMap(({ surveys }) => surveys.map(({ day }) => day))
          .sort((a, b) => a - b),
      );
    case 'look':
      return (
        actions.find(({ kind, at, subjectId }) => kind === 'look' && at > last.at && about.has(subjectId))
          ?.at ?? null
      );
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
 * When a kit had its checks after what was done first (a kit opened or put away; else since the alert opened), and not
 * before what was done last; null while they are too few. Checks of the kit that was opened or checked count; where one
 * was put away, those of another of its quantity.
 */
function kitCheckedAt({ alert, last, actions, about, facts }: Confirmed): Date | null {
  const changed = actions.find(
    (action) =>
      action.at > alert.openedAt &&
      action.kind !== 'check' &&
      kitActs.includes(action.kind) &&
      (about.has(action.subjectId) || isSameQuantity(action, alert, facts)),
  );
  const from = changed?.at ?? alert.openedAt;
  const checks = actions.filter(
    ({ kind, at, subjectId, quantityCode }) =>
      kind === 'check' &&
      at > from &&
      quantityCode === last.quantityCode &&
      (subjectId === last.subjectId) === (last.kind !== 'kit put away'),
  );
  const enough = checks[newKitTests - 1]?.at;
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

function confirmWords(
  confirm: Confirming,
  alert: OpenAlert,
  facts: SystemFacts,
  code: string | null,
): string {
  switch (confirm) {
    case 'test':
      return code === null ? 'a test of the water' : `a test of ${nameOf(facts, code)}`;
    case 'survey': {
      const racks = racksOf(alert, facts).map(({ name }) => name);
      return racks.length === 0 ? 'a light survey' : `a light survey of ${racks.slice(0, 3).join(' or ')}`;
    }
    case 'look': {
      const codes = facts.lots.filter(({ id }) => id === alert.subject.id).map(lotName);
      return codes.length === 0 ? 'a look at its lots' : `a look at ${codes.join(', ')}`;
    }
    case 'probe':
      return 'a test by hand beside the probe';
    case 'kit':
      return `${numberWords(newKitTests)} tests beside another kit, or of a standard`;
  }
}

/** "lamps “Row 1” set from 95 % to 70 %". */
function actionWords({ kind, name, amount, before, quantityCode }: Action, facts: SystemFacts): string {
  const of =
    quantityCode !== null && facts.quantities.has(quantityCode) ? ` of ${nameOf(facts, quantityCode)}` : '';
  const percent = (value: number | null) => `${numberWords(value ?? 0)} %`;
  switch (kind) {
    case 'lamps':
      return `lamps “${name}” set${before === null ? '' : ` from ${percent(before)}`} to ${percent(amount)}`;
    case 'move':
    case 'said':
      return name;
    case 'flow':
      return `flow or base noted anew on ${name}`;
    case 'water change':
      return `water change of ${numberWords(amount ?? 0)} L (${percent(Math.round((100 * (amount ?? 0)) / facts.volumeL))})`;
    case 'dose':
      return `dosed ${name}`;
    case 'correction':
      return `correction${of} planned`;
    case 'correction stopped':
      return `correction${of} stopped`;
    case 'routine':
      return `${name}${of}`;
    case 'switched off':
      return `${name} switched off`;
    case 'running':
      return `${name} seen running`;
    case 'mended':
      return `mended: ${name}`;
    case 'serviced':
      return `${name} serviced`;
    case 'event':
      return `noted: ${name}`;
    case 'kit opened':
      return `kit ${name} opened`;
    case 'kit put away':
      return `kit ${name} put away`;
    case 'check':
      return `kit ${name} checked`;
    case 'look':
      return 'looked at';
  }
}
