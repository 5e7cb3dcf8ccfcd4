import { opposes } from '../../alerts/conflicts.rules.ts';
import type { OpenAlert } from '../../alerts/diff.rules.ts';
import type { Answer, Finding } from '../../alerts/finding.ts';
import { dayOf, hourMs } from '../../science/numeric/time.ts';
import type { SystemFacts } from '../facts/types.ts';
import { actionWords } from './action-words.ts';
import type { Action, ActionKind } from './actions.ts';
import {
  type Confirming,
  confirmedBy,
  confirmWords,
  hoursUntil,
  isSameQuantity,
  kitActs,
} from './confirmation.rules.ts';
import { effectsOf, isTakenIn } from './effects.rules.ts';

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

/** By rule; a rule that ends with the act itself needs none. */
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
  'sinking-fast': water,
  'warming-fast': { by: ['switched off', 'running', 'mended', 'serviced', ...plan], confirm: 'test' },
  'moving-together': water,
  'sources-differ': { by: [], confirm: 'test' },
  'tissue-loss': { by: ['move', 'water change', 'switched off', 'running', ...plan], confirm: 'look' },
  'cut-batch': { by: ['move'], confirm: 'look' },
  'affected-share': { by: ['move', 'water change', 'switched off', 'running', ...plan], confirm: 'look' },
  'losses-above-usual': { by: ['move', 'water change', 'switched off', 'running', ...plan], confirm: 'look' },
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

/** What ends the alerts of rules that need no confirmation, to go on after "it ends when". */
const endings: Readonly<Record<string, string>> = {
  overdue: 'the work itself is entered',
  'survey-old': 'the light is measured',
  'still-off': 'it is seen running',
  'equipment-fault': 'it is noted as mended',
  'look-overdue': 'the look is noted',
  'kit-missing': 'another kit is open',
  'device-silent': 'the device is heard again',
  lightening: 'a look is recorded',
  'rack-shift': 'later photographs no longer show it',
};

/** What ends an alert that asks for no confirmation of what was done, to go on after "it ends when"; null for all others. */
export const endingOf = ({ rule, facet }: { rule: string; facet: string }): string | null =>
  rule === 'still-off' && facet === 'tests afterwards' ? 'the tests are entered' : (endings[rule] ?? null);

/** Where work of a kind is planned to come again, doing it is no answer to an alert. */
const planned: Partial<Record<ActionKind, string>> = { dose: 'dose', 'water change': 'water_change' };

/** Of what an alert on water tells: the facet, where it is a quantity, else this. */
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

/** The quantity that an alert on water tells of; null where it tells of none. */
export const quantityOfAlert = (
  { rule, facet }: { rule: string; facet: string },
  { quantities }: SystemFacts,
): string | null => (quantities.has(facet) ? facet : (quantityOf[rule] ?? null));

/** What is known when an answer is looked for: `found` as its rule finds it now, null where it finds nothing. */
interface Known {
  facts: SystemFacts;
  /** All of the system, oldest first. */
  actions: readonly Action[];
  found: Finding | null;
  now: Date;
}

/**
 * What was done last about an alert since it opened, and what will confirm it; null where nothing was done that answers
 * it. What leads away from what the alert asks for is no answer.
 */
export function answerTo(alert: OpenAlert, { facts, actions, found, now }: Known): Answer | null {
  const remedy = remedies[alert.rule];
  if (remedy === undefined) return null;
  const code = quantityOfAlert(alert, facts);
  const about = subjectsOf(alert, facts, code);
  const last = actions.findLast(
    (action) => action.at > alert.openedAt && answers(action, { alert, remedy, about, facts, code, found }),
  );
  if (last === undefined) return null;
  const moved = last.kind === 'move' && remedy.confirm === 'survey';
  const confirm = moved ? 'look' : remedy.confirm;
  const dueAt = new Date(last.at.getTime() + hoursUntil(confirm, code) * hourMs);
  const asked = { alert, last, facts, actions, about, code };
  const confirmedAt = confirmedBy(confirm, asked);
  return {
    what: actionWords(last, facts),
    by: last.who ?? '',
    at: last.at.toISOString(),
    noted: last.subjectId === alert.id && (last.kind === 'said' || last.kind === 'doser righted'),
    confirm: confirmWords(confirm, asked),
    dueAt: dueAt.toISOString(),
    confirmedAt: confirmedAt?.toISOString() ?? null,
    overdue: confirmedAt === null && dueAt <= now,
    ...(confirmedAt !== null && found?.status === 'fires' ? { still: true as const } : {}),
    ...(found?.status === 'fires' && isTakenIn(last, found, facts) ? { short: true as const } : {}),
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
  found: Finding | null;
}

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
const doses: readonly string[] = ['doser', 'reactor', 'by_hand'];
const moves: readonly string[] = [
  ...['air', 'air_pump', 'skimmer'],
  ...['all_flow', 'return_pump', 'wave_pump'],
];
/** By quantity, the equipment whose switching or service can set it right; of all others what doses. */
const equipmentOf: Readonly<Record<string, readonly string[]>> = {
  temperature: heats,
  salinity: ['top_up', 'float_switch', 'purifier', 'valve_open'],
  oxygen: moves,
  ammonia: moves,
  ph: [...moves, ...doses],
};
const ofEquipment: readonly ActionKind[] = ['switched off', 'running', 'serviced'];

function answers(action: Action, match: Match): boolean {
  const { alert, remedy, about, facts, code, found } = match;
  const { kind, subjectId, quantityCode } = action;
  if (kind === 'said') return subjectId === alert.id;
  // It answers all that is told of what it doses, wherever it was said. What is only found, or found in order, answers nothing.
  if (kind === 'doser righted') return code !== null && code === quantityCode;
  if (!remedy.by.includes(kind) || leadsAway(action, found ?? alert.finding, facts)) return false;
  if (kitActs.includes(kind)) return subjectId === alert.subject.id || isSameQuantity(action, alert, facts);
  if (ofThing.includes(kind)) return about.has(subjectId) && !isSameLamps(action);
  if (ofEquipment.includes(kind)) return (equipmentOf[code ?? ''] ?? doses).includes(quantityCode ?? '');
  if (kind === 'dose' && isDosedAsBefore(alert, facts, code)) return false;
  const work = planned[kind];
  if (work !== undefined && facts.routines.some((routine) => routine.work === work)) return false;
  return quantityCode === null || code === null || quantityCode === code;
}

/** Whether it works against what the alert asks for, or is no work on the water at all. */
function leadsAway(action: Action, { advice }: Finding, facts: SystemFacts): boolean {
  const effects = effectsOf(action, facts);
  const asked = (advice ?? []).flatMap(({ acts }) => acts);
  return effects === null || effects.some((effect) => asked.some((act) => opposes(act, effect)));
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
