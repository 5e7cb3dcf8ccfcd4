import { advised, air, done, measure, people } from '../../../alerts/advice.ts';
import { type Finding, type FindingKey, plainFinding } from '../../../alerts/finding.ts';
import { scales } from '../../../platform/units/scales.ts';
import { whenWords } from '../../../platform/words/times.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import { say, sayDifference } from '../../../water/quantities/quantities.ts';
import { momentOfDay, type SwitchedOffFact, type SystemFacts } from '../../facts/types.ts';
import type { Values } from '../../rule-definition/parameters.ts';
import { defineRule, type SettingsFor } from '../../rule-definition/rule.ts';
import { waterEnded } from '../endings/water.ts';
import { type ShownValue, valuesOf } from '../levels/shown-values.ts';
import { amount, nameOf, quantityNamed } from '../shared/words.ts';
import { fallsTogetherKey } from './moving-together.ts';

const parameters = {
  ph: {
    label: 'pH below the week’s usual low by',
    unit: '',
    default: 0.2,
    low: 0.05,
    high: 1,
    source: 'own choice: as much again as a usual night takes it down',
  },
  oxygen: {
    label: 'Oxygen below the week’s usual low by',
    unit: 'mg/L',
    default: 1,
    low: 0.2,
    high: 4,
    source:
      'own choice: a third of the way from saturation at 25 °C to the 4 mg/L at which stock is in danger',
  },
  temperature: {
    label: 'Temperature below the week’s usual low, alone or with the others, by',
    unit: '°C',
    scale: scales.byDegC,
    default: 0.7,
    low: 0.2,
    high: 4,
    source: 'own choice: twice the error of a thermometer',
  },
};

const name = 'sinking-fast';
/** The last two values stand no further apart than this, and the newest is no older; days. */
const [together, fresh] = [8 / 24, 6 / 24];
/** What is usual is learnt from the seven days before the last half day; from so many values at least. */
const [usualDays, leftOut, fewest] = [7, 0.5, 5];
/** Of what is usual the tenth part that is lowest counts as its low. */
const lowShare = 0.1;

/** pH and oxygen that sink together, or fast, are what water shows whose pumps or air have stopped. */
export const sinkingFast = defineRule({
  name,
  heading: 'pH, oxygen or temperature sinks fast',
  watches:
    'Warns when two values running of pH, oxygen or temperature are well below the lows of the last week, as they do within hours where pumps or air stop, something dies or carbon dioxide fills the room, or a heater fails. Half as much counts where pH and oxygen both sink, where the temperature sinks with one of them, or where flow or air is noted as switched off.',
  byKind: false,
  parameters,
  quietHours: 6,
  untried: 'This rule looks at hours; tried once a day it shows only what sank at that hour.',
  ended: (facts, alert, now) =>
    waterEnded(...(alert.facet === 'temperature' ? ['temperature'] : ['ph', 'oxygen']))(facts, alert, now),
  evaluate(facts, settings, now) {
    const signs = signsOf(facts, settings(), now);
    const still = facts.switchedOff.find(isStill);
    const gases = signs.filter(({ code }) => code !== 'temperature');
    const weight = Math.max(0, ...(gases.length > 0 ? gases : signs).map((sign) => sign.weight));
    const borneOut = signs.length > 1 || still !== undefined;
    if (weight < (borneOut ? 0.5 : 1)) return [];
    const said = gases.length > 0 ? gasesSink(facts, signs, still, weight) : waterCools(facts, still);
    const found = finding(facts, signs, weight, said, stillWords(facts, still, now));
    return [
      still === undefined
        ? { ...found, causes: [...found.causes, ...shared(facts, gases, settings)] }
        : found,
    ];
  },
});

/** Where all that sinks here sinks in other systems too, it is one matter of all of them. */
function shared(facts: SystemFacts, gases: readonly Sign[], settings: SettingsFor<typeof parameters>) {
  const keys = gases.map(({ code }) => fallsTogetherKey(facts, code, settings));
  const known = keys.filter((key) => key !== null);
  return known.length === keys.length ? known : [];
}

/** What of a quantity speaks for it: how far its last two values stand below what is usual, in parts of the limit. */
interface Sign {
  code: keyof typeof parameters;
  usualLow: number;
  by: number;
  weight: number;
  last: ShownValue[];
}

function signsOf(facts: SystemFacts, limits: Values<typeof parameters>, now: Date): Sign[] {
  const codes: Sign['code'][] = ['oxygen', 'ph', 'temperature'];
  return codes.flatMap((code) => {
    const sign = signOf(code, valuesOf(facts, code), limits[code], dayOf(now));
    return sign === null || sign.weight < 0.5 ? [] : [sign];
  });
}

function signOf(
  code: Sign['code'],
  values: readonly ShownValue[],
  limit: number,
  today: number,
): Sign | null {
  const [before, last] = values.slice(-2);
  if (before === undefined || last === undefined) return null;
  if (today - last.day > fresh || last.day - before.day > together) return null;
  const older = values.filter(({ day }) => day < last.day - leftOut && day >= last.day - usualDays);
  if (older.length < fewest) return null;
  const sorted = older.map(({ value }) => value).sort((a, b) => a - b);
  const usualLow = sorted[Math.floor(lowShare * sorted.length)] ?? Number.NaN;
  const by = usualLow - Math.max(before.value, last.value);
  return { code, usualLow, by: usualLow - last.value, weight: by / limit, last: [before, last] };
}

const moving: readonly SwitchedOffFact['thing'][] = ['all_flow', 'return_pump', 'wave_pump', 'air'];
const isStill = ({ onDay, thing }: SwitchedOffFact): boolean => onDay === null && moving.includes(thing);

const stillWords = (facts: SystemFacts, still: SwitchedOffFact | undefined, now: Date): string =>
  still === undefined
    ? ''
    : `${still.what} is noted as switched off since ${whenWords(momentOfDay(still.day), facts.timeZone, now)}. `;

/** pH alone may be the room's air; twice its limit is not waited on. */
const graveAlone = 2;

/** What is said of it: `why` after what is noted as switched off. */
type Said = Pick<Finding, 'facet' | 'severity' | 'title' | 'why' | 'causes' | 'firstStep'> &
  ReturnType<typeof advised>;

function gasesSink(
  facts: SystemFacts,
  signs: readonly Sign[],
  still: SwitchedOffFact | undefined,
  weight: number,
): Said {
  const borneOut = signs.length > 1 || still !== undefined || signs.some(({ code }) => code === 'oxygen');
  const names = signs.map(({ code }) => nameOf(facts, code)).join(' and ');
  return {
    facet: '',
    severity: borneOut || weight >= graveAlone ? 'now' : 'today',
    title: `${facts.name}: ${names} ${signs.length > 1 ? 'sink' : 'sinks'} fast: does the water move?`,
    why: 'Where pumps or air stop, oxygen goes and carbon dioxide stays, so that both sink within hours, and the temperature where the heater’s warmth no longer comes round. A death in the tank or carbon dioxide in the room does the same.',
    ...advised(
      people('If people feel unwell, leave the room: carbon dioxide.'),
      air(
        'Look whether every pump turns and air bubbles. Turn air stones on, take lids off, open windows.',
        done('air'),
      ),
      measure('Measure oxygen if you can, and read pH again within half an hour. Add no buffer.'),
    ),
    causes: still === undefined ? [] : [offKey(facts, still)],
  };
}

/** Temperature alone: a level out of its band says by itself what to do, and how fast to warm. */
const waterCools = (facts: SystemFacts, still: SwitchedOffFact | undefined): Said => ({
  facet: 'temperature',
  severity: 'today',
  title: `${facts.name}: ${nameOf(facts, 'temperature')} sinks fast: is it heated, and does the water move?`,
  why: 'A heater or its controller that failed, a cooler that sticks on, or a pump that no longer brings the heater’s warmth round lets water cool within hours. So do cool water put in and an open window.',
  ...advised(
    air(
      'Look whether every pump turns. Then look at heater, cooler and controller, with the circuit off before hands go in.',
      done('air'),
    ),
    measure('Read the temperature again within the hour, with another thermometer.'),
  ),
  causes: [
    ...(still === undefined ? [] : [offKey(facts, still)]),
    { rule: 'out-of-band', subject: { type: 'system', id: facts.systemId }, facet: 'temperature' },
  ],
});

const offKey = (facts: SystemFacts, still: SwitchedOffFact): FindingKey => ({
  rule: 'still-off',
  subject: { type: still.tankId === null ? 'system' : 'tank', id: still.tankId ?? facts.systemId },
  facet: still.equipmentId ?? still.thing,
});

function finding(
  facts: SystemFacts,
  signs: readonly Sign[],
  weight: number,
  said: Said,
  off: string,
): Finding {
  const [first] = signs as [Sign];
  const quantity = quantityNamed(facts, first.code);
  const last = first.last.at(-1)?.value ?? 0;
  return {
    ...plainFinding,
    ...said,
    rule: name,
    subject: { type: 'system', id: facts.systemId },
    systemId: facts.systemId,
    href: `/water/systems/${facts.systemId}?quantity=${first.code}`,
    status: 'fires',
    score: 1 + weight,
    numbers: signs
      .map(
        ({ code, last: two, usualLow }) =>
          `${nameOf(facts, code)} ${two.map(({ value }) => say(quantityNamed(facts, code), value)).join(', then ')}; low of the week ${say(quantityNamed(facts, code), usualLow)}`,
      )
      .join('. '),
    number: amount(quantity, `Last ${nameOf(facts, first.code)}`, last),
    limit: {
      ...amount(quantity, 'Usual low of the week', first.usualLow),
      source: 'the lowest tenth of this system’s own values of seven days',
    },
    figures: signs.map(({ code, by }) => ({
      label: `${nameOf(facts, code)} below its usual low`,
      text: sayDifference(quantityNamed(facts, code), by, last),
    })),
    why: `${off}${said.why}`,
    evidence: signs.flatMap(({ code, last: two }) =>
      two.map(({ day, value, evidence }) => ({
        ...evidence,
        at: momentOfDay(day).toISOString(),
        text: say(quantityNamed(facts, code), value),
        note: nameOf(facts, code),
      })),
    ),
  };
}
