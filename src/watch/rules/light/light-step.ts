import { advised, measure, optimise, up } from '../../../alerts/advice.ts';
import { type Finding, mostUrgent, plainFinding } from '../../../alerts/finding.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import type { SystemFacts } from '../../facts/types.ts';
import { defineRule } from '../../rule-definition/rule.ts';
import { lightEnded } from '../endings/places.ts';
import { groupedByRack } from '../shared/group-by-rack.ts';
import { lotsWords } from '../shared/place-words.ts';
import { dateOfDay, figure } from '../shared/words.ts';
import { type LampChange, lampChangeEvidence, lampDimmedKey, lastLampChange } from './lamp-changes.ts';
import { fadingLamps } from './lamp-fading.ts';
import { type DimmedLot, dimmedFinding, dimmedLot } from './light-drop.ts';

const parameters = {
  opens: {
    label: 'Alert when it gets so many times less light than it is used to',
    unit: 'times',
    default: 2.5,
    low: 1.2,
    high: 10,
    source:
      'own choice: a step down does less harm than one up; darkness for weeks bleaches (Coral Reefs 2025)',
  },
  stays: {
    label: 'Close below so many times less light',
    unit: 'times',
    default: 1.8,
    low: 1.05,
    high: 10,
    source: 'own choice: clearly below what opens it',
  },
  fading: {
    label: 'Alert when lamps at one setting gave, between surveys, less light by',
    unit: '%',
    default: 15,
    low: 5,
    high: 60,
    source:
      'own choice: beyond two surveys’ error; lamps are replaced when output is down by more than about 25 % (light articles)',
  },
  worn: {
    label: 'For today when it is less by',
    unit: '%',
    default: 25,
    low: 5,
    high: 80,
    source: 'light articles: replace when output is down by more than about 25 %',
  },
};

const fewest = 2;

/** Light that fell: at once, so that a lot stands in far less than it is used to, or by and by as lamps get old. */
export const lightStep = defineRule({
  name: 'light-step',
  heading: 'Light that fell',
  watches:
    'Looks for lots in far less light than they are used to, and for lamps that give less at one setting from survey to survey. A step up is told under Too much light. Lots moved to the shade to recover, or by an acclimation, are left alone.',
  byKind: true,
  parameters,
  quietHours: 36,
  ended: lightEnded,
  evaluate(facts, settings, now) {
    const today = dayOf(now);
    const fallen = facts.lots
      .map((lot) => dimmedLot(lot, settings(lot.kindIds), today))
      .filter((one): one is DimmedLot => one !== null);
    const { fading, worn } = settings();
    return [...stepsDown(facts, fallen, today), ...fadingLamps(facts, { fading, worn }, today)];
  },
});

/** Lots under lamps that were turned down are one matter of the lamps, others on one rack one of the rack. */
function stepsDown(facts: SystemFacts, fallen: readonly DimmedLot[], today: number): Finding[] {
  const byLamp = Map.groupBy(fallen, ({ lot }) => lot.lampId);
  const lamps = facts.lamps.flatMap((lamp) => {
    const turned = lastLampChange(lamp, today);
    const lots = byLamp.get(lamp.id) ?? [];
    if (turned === null || turned.to >= turned.from || lots.length < fewest) return [];
    return [{ turned, lots }];
  });
  const gathered = new Set(lamps.flatMap(({ lots }) => lots));
  const alone = fallen.filter((one) => !gathered.has(one));
  return [
    ...lamps.flatMap(({ turned, lots }) => [
      downFinding(facts, turned, lots),
      ...lots.map((one) => ({
        ...dimmedFinding(facts, one),
        status: 'stays' as const,
        causes: [lampDimmedKey(turned.lamp.id, 'down')],
      })),
    ]),
    ...groupedByRack(
      facts,
      alone.map((one) => ({ lot: one.lot, finding: dimmedFinding(facts, one) })),
      (rack, lots) => ({
        title: `${rack.name}: ${lotsWords(lots.length)} get far less light`,
        numbers: `down to one ${numberLess(Math.max(...lots.map(({ finding }) => finding.score)))} of it`,
        number: figure('Lots', lots.length, 0),
        limit: {
          ...figure('Lots of one rack that are one alert, from', 3, 0),
          source: 'own choice: three of one rack have one cause',
        },
        why: 'Several lots of one rack at once: the lamps, a cover, dirt on the glass, or the rack was lowered.',
        ...advised(
          measure(
            'Look at the lamps and the glass above. Measure at a slot or two before anything is moved.',
          ),
        ),
      }),
    ),
  ];
}

const numberLess = (times: number) => figure('', times, 1).text;

/** @param lots at least one */
function downFinding(facts: SystemFacts, turned: LampChange, lots: readonly DimmedLot[]): Finding {
  const { lamp, from, to, day } = turned;
  const worst = lots.reduce((a, b) => (b.times > a.times ? b : a));
  return {
    ...plainFinding,
    ...lampDimmedKey(lamp.id, 'down'),
    systemId: facts.systemId,
    href: `/lamps/${lamp.id}/settings`,
    status: lots.some(({ status }) => status === 'fires') ? 'fires' : 'stays',
    severity: mostUrgent(lots.map(({ severity }) => severity)),
    score: worst.times,
    title: `Lamps “${lamp.name}”: ${lotsWords(lots.length)} get far less light`,
    numbers: `${from} % to ${to} % on ${dateOfDay(day, facts)}`,
    number: figure('Times less, the worst of them', worst.times, 1, 'times'),
    large: { text: figure('', to, 0).text, unit: '%', more: `was ${from} %` },
    began: { from: turned.at, to: turned.at },
    limit: { ...figure('Told from', worst.opens, 1, 'times'), source: parameters.opens.source },
    why: 'The lamps were turned down further in one step than the lots under them can follow; what they lose in weeks takes months to come back.',
    ...advised(
      optimise(
        'If it was meant, leave it. If not, bring the light back by steps: after some days they are used to less.',
        up('light'),
      ),
    ),
    lots: lots.map(({ lot }) => lot.id),
    evidence: [lampChangeEvidence(turned)],
  };
}
