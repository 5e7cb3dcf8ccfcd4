import { advised, done, measure, noted, optimise, up } from '../../../alerts/advice.ts';
import { type Finding, plainFinding, type Severity } from '../../../alerts/finding.ts';
import { urgencyBySource } from '../../../alerts/unchecked.rules.ts';
import { dayCount, numberWords } from '../../../platform/words/numbers.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import { DEFAULT_ADAPTATION_DAYS } from '../../../stock/light/accustomed.rules.ts';
import type { LightFact, LotFact, SystemFacts } from '../../facts/types.ts';
import type { Values } from '../../rule-definition/parameters.ts';
import { defineRule } from '../../rule-definition/rule.ts';
import { lightEnded } from '../endings/places.ts';
import { lookEvidence, signSince } from '../shared/conditions.ts';
import { groupedByRack, type LotFinding } from '../shared/group-by-rack.ts';
import { lotsWords, placementEvidence, whereWords } from '../shared/place-words.ts';
import { recoveryOf } from '../shared/recovery.ts';
import { figure, numberOf } from '../shared/words.ts';
import { lampDimmedKey } from './lamp-changes.ts';
import { lightSince } from './light-since.ts';

const parameters = {
  wait: {
    label: 'Alert after so many time constants in too little light',
    unit: 'times',
    default: 3,
    low: 0.5,
    high: 10,
    source: 'within 5 % of the new light after three time constants (first-order adaptation)',
  },
  deep: {
    label: 'Deep shade below this part of the least light',
    unit: 'times',
    default: 0.5,
    low: 0.1,
    high: 0.9,
    source:
      'own choice: half the least; four weeks of darkness bleach severely (Coral Reefs 2025, Pachyseris)',
  },
  deepWait: {
    label: 'Alert in deep shade after so many time constants',
    unit: 'times',
    default: 1,
    low: 0.2,
    high: 10,
    source: 'own choice: before what it lost is past mending in days',
  },
};

type Settings = Values<typeof parameters>;

/** A lot that has been in too little light for its kind, for longer than it takes to adapt. */
export const tooLittleLight = defineRule({
  name: 'too-little-light',
  heading: 'Too little light',
  watches:
    'Compares the light each lot gets with the least its kind needs, once it has been dim for longer than the lot takes to adapt. Lots that recover, or are in an acclimation, are left in their shade.',
  byKind: true,
  parameters,
  quietHours: 36,
  ended: lightEnded,
  evaluate(facts, settings, now) {
    const found = facts.lots
      .map((lot) => findingOf(facts, lot, settings(lot.kindIds), dayOf(now)))
      .filter((one): one is LotFinding => one !== null);
    return groupedByRack(facts, found, (rack, lots) => ({
      title: `${rack.name}: ${lotsWords(lots.length)} get too little light`,
      numbers: `${numberOf(Math.min(...lots.map(({ finding }) => finding.number.value)))} µmol/(m² s) at the darkest`,
      number: figure('Lots too dim', lots.length, 0),
      limit: {
        ...figure('Lots of one rack that are one alert, from', 3, 0),
        source: 'own choice: three of one rack have one cause',
      },
      why: 'Several lots of one rack are dim: the lamps or the rack’s depth, or the wrong rack for their kinds.',
      ...advised(
        measure('Measure the light at a slot or two.'),
        optimise(
          'If it is so, plan a move of the lots listed, or raise the lamps by steps.',
          up('light'),
          done('place'),
        ),
      ),
    }));
  },
});

function findingOf(facts: SystemFacts, lot: LotFact, settings: Settings, today: number): LotFinding | null {
  const { range } = lot.care;
  const now = lot.light.at(-1);
  if (range?.low == null || now === undefined || now.par >= range.low) return null;
  if (lot.acclimation !== null) return null;
  const sinceDay = dimSince(lot.light, range.low);
  const recovery = recoveryOf(lot.conditions);
  if (recovery !== null && recovery.sinceDay <= sinceDay) return null;
  const days = today - sinceDay;
  const adapts = lot.care.adaptationDays?.days ?? DEFAULT_ADAPTATION_DAYS;
  const deep = now.par < settings.deep * range.low;
  const long = days >= (deep ? settings.deepWait : settings.wait) * adapts;
  const clearly = now.par + now.error < range.low;
  const sign = signSince(lot, ['paling', 'bleached'], sinceDay);
  const calm = urgencyBySource(deep ? 'today' : 'watch', range.source);
  const severity: Severity = sign === null ? calm : 'today';
  const least = numberOf(range.low);
  const par = (label: string, value: number) => figure(label, value, 0, 'µmol/(m² s)');
  const finding: Finding = {
    ...plainFinding,
    rule: 'too-little-light',
    subject: { type: 'lot', id: lot.id },
    systemId: facts.systemId,
    href: `/stock/${lot.code}`,
    status: clearly && long ? 'fires' : 'stays',
    severity,
    score: range.low / Math.max(1, now.par),
    title: `${whereWords(lot)}: too little light for its kind`,
    numbers: `${numberOf(now.par)} for ${dayCount(Math.floor(days))}; kept at ${least}${range.high === null ? ' or more' : ` to ${numberOf(range.high)}`}`,
    number: par('Light at its place', now.par),
    limit: { ...par('Least its kind is kept at', range.low), source: range.source },
    figures: [
      {
        label: 'How sure',
        text: `± ${numberOf(now.error)}${now.estimated ? ', scaled from a survey at another lamp setting' : ', surveyed'}`,
      },
      { label: 'Below it', text: lightSince(facts, lot, sinceDay) },
      { label: 'It adapts within', text: `${numberWords(3 * adapts, 0)} days (95 %)` },
    ],
    why: `${lot.kindName}. In too little light a coral darkens, then thins and stops growing; slowly, so that nobody sees it.`,
    ...advised(
      noted(
        optimise(
          `Move it to ${least} µmol/(m² s) or more, by steps it can follow.`,
          up('light'),
          done('place'),
        ),
        'It is used to the dim place now.',
      ),
    ),
    evidence: [
      ...(sign === null ? [] : [lookEvidence(sign)]),
      placementEvidence(lot, `${numberOf(now.par)} µmol/(m² s) now`),
    ],
    causes:
      lot.lampId === null ? [] : [lampDimmedKey(lot.lampId, 'down'), lampDimmedKey(lot.lampId, 'fading')],
  };
  return { lot, finding };
}

/** The day since which its light has been below a level without a break. */
function dimSince(light: readonly LightFact[], low: number): number {
  const brighter = light.findLastIndex(({ par }) => par >= low);
  return light[brighter + 1]?.fromDay ?? Number.POSITIVE_INFINITY;
}
