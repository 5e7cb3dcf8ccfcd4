import { advised, measure } from '../../../alerts/advice.ts';
import { type Evidence, type Finding, plainFinding } from '../../../alerts/finding.ts';
import { numberWords } from '../../../platform/words/numbers.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import type { RackFact, SurveyFact, SystemFacts } from '../../facts/types.ts';
import type { Values } from '../../rule-definition/parameters.ts';
import { defineRule } from '../../rule-definition/rule.ts';
import { surveyEnded } from '../endings/places.ts';
import { dateOfDay, figure } from '../shared/words.ts';
import { lampBrightenedKey, lampChangeEvidence, lampDimmedKey, lastLampChange } from './lamp-changes.ts';
import { surveyEvidence } from './lamp-fading.ts';

const parameters = {
  days: {
    label: 'A survey is old after',
    unit: 'd',
    default: 180,
    low: 14,
    high: 730,
    source: 'own choice: lamps and glass lose some light in half a year',
  },
  grace: {
    label: 'Days to measure after lamps were turned or a rack was moved',
    unit: 'd',
    default: 2,
    low: 0,
    high: 30,
    source: 'own choice; light articles: light is measured before and after lamps are changed',
  },
  turned: {
    label: 'Measure again when lamps were turned by',
    unit: '%',
    default: 10,
    low: 1,
    high: 100,
    source: 'own choice: lamps need not give light in proportion to their setting',
  },
};

type Settings = Values<typeof parameters>;

/** Light that is reckoned with but was not measured lately. */
export const surveyOutdated = defineRule({
  name: 'survey-old',
  heading: 'Light to be measured again',
  watches:
    'Says which racks need a light survey: those with lots on them that were surveyed long ago, or whose lamps were turned or which were moved since: until then their light is an estimate. Racks never surveyed are listed under what is still missing.',
  byKind: false,
  parameters,
  quietHours: 0,
  ended: surveyEnded,
  evaluate(facts, settings, now) {
    const occupied = new Set(facts.lots.map(({ rackId }) => rackId));
    const racks = facts.racks.filter(({ id }) => occupied.has(id));
    return racks.flatMap((rack) => staleFinding(facts, rack, settings(), dayOf(now)));
  },
});

interface Stale {
  text: string;
  number: Finding['number'];
  limit: Finding['limit'];
  score: number;
  evidence: Evidence[];
}

function staleFinding(facts: SystemFacts, rack: RackFact, settings: Settings, today: number): Finding[] {
  const survey = rack.surveys.at(-1);
  if (survey === undefined) return [];
  const [first, ...others] = [
    ...moved(facts, rack, survey, settings, today),
    ...turned(facts, rack, survey, settings, today),
    ...old(facts, survey, settings, today),
  ];
  if (first === undefined) return [];
  const { text, number, limit, score, evidence } = first;
  return [
    {
      ...plainFinding,
      rule: 'survey-old',
      subject: { type: 'rack', id: rack.id },
      systemId: facts.systemId,
      href: `/racks/${rack.id}`,
      status: 'fires',
      severity: 'watch',
      score,
      title: `${rack.name}: its light is estimated, measure again`,
      numbers: [first, ...others].map((one) => one.text).join('; '),
      number,
      limit,
      figures: [
        { label: 'Why', text },
        { label: 'Tank', text: rack.tankName },
      ],
      why: 'Limits, moves and steps on this rack are worked out from light that was not measured as it is now.',
      ...advised(
        measure(
          'Measure at a dozen slots spread over the rack, with the lamps as they are. Start with the brightest.',
        ),
      ),
      evidence: [...evidence, surveyEvidence(rack, survey)],
      causes:
        rack.lampId === null ? [] : [lampBrightenedKey(rack.lampId), lampDimmedKey(rack.lampId, 'down')],
    },
  ];
}

function old(facts: SystemFacts, survey: SurveyFact, { days }: Settings, today: number): Stale[] {
  const age = today - survey.day;
  if (age <= days) return [];
  return [
    {
      text: `surveyed ${dateOfDay(survey.day, facts)}`,
      number: figure('Days since the survey', age, 0, 'd'),
      limit: { ...figure('Old after', days, 0, 'd'), source: parameters.days.source },
      score: age / days,
      evidence: [],
    },
  ];
}

function turned(
  facts: SystemFacts,
  rack: RackFact,
  survey: SurveyFact,
  { grace, turned: least }: Settings,
  today: number,
): Stale[] {
  const lamp = facts.lamps.find(({ id }) => id === rack.lampId);
  const setting = lamp?.settings.at(-1);
  if (lamp === undefined || setting === undefined || survey.percent === null || survey.percent <= 0)
    return [];
  const by = 100 * Math.abs(setting.percent / survey.percent - 1);
  if (setting.day <= survey.day || by < least || today - setting.day < grace) return [];
  const last = lastLampChange(lamp, today);
  return [
    {
      text: `lamps turned from ${numberWords(survey.percent)} % to ${numberWords(setting.percent)} % since it was measured`,
      number: figure('Lamps against the survey', by, 0, '%'),
      limit: { ...figure('Asks for a survey from', least, 0, '%'), source: parameters.turned.source },
      score: 1 + by / 100,
      evidence: last === null ? [] : [lampChangeEvidence(last)],
    },
  ];
}

function moved(
  facts: SystemFacts,
  rack: RackFact,
  survey: SurveyFact,
  { grace }: Settings,
  today: number,
): Stale[] {
  const { standsDay } = rack;
  if (standsDay === null || standsDay <= survey.day || today - standsDay < grace) return [];
  return [
    {
      text: `the rack hangs otherwise since ${dateOfDay(standsDay, facts)}, after it was measured`,
      number: figure('Days since it was moved', today - standsDay, 0, 'd'),
      limit: { ...figure('Wants measuring after', grace, 0, 'd'), source: parameters.grace.source },
      score: 2,
      evidence: [],
    },
  ];
}
