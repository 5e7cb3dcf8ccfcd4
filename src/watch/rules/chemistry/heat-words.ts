import { advised, correct, down, hold, measure, people } from '../../../alerts/advice.ts';
import { type Finding, plainFinding, type Severity } from '../../../alerts/finding.ts';
import { numberWords } from '../../../platform/words/numbers.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import { say, sayDifference } from '../../../water/quantities/quantities.ts';
import type { SystemFacts } from '../../facts/types.ts';
import { nitrateRaised } from '../nitrate/raised.ts';
import { amount, dateOfDay, figure, quantityNamed, readingEvidence } from '../shared/words.ts';
import type { Heat, UsualWarmth } from './heat-sum.ts';

const unit = '°C-weeks';
const shownDays = 14;

/** What is said of heat that has added up. */
export function heatFinding(
  facts: SystemFacts,
  heat: Heat,
  status: Finding['status'],
  values: Readonly<Record<'bleaching' | 'death', number>>,
  now: Date,
): Finding {
  const quantity = quantityNamed(facts, 'temperature');
  const readings = facts.readings.get('temperature') ?? [];
  const grave = heat.weeks >= values.death;
  return {
    ...plainFinding,
    rule: 'heat-stress',
    subject: { type: 'system', id: facts.systemId },
    systemId: facts.systemId,
    href: `/water/systems/${facts.systemId}`,
    status,
    severity: severityOf(facts, heat, grave),
    score: heat.weeks / values.bleaching,
    title: `${facts.name}: heat stress has added up`,
    numbers: `${numberWords(heat.weeks, 1)} ${unit} since ${dateOfDay(heat.sinceDay, facts)}${heat.longer ? ' or earlier' : ''}; ${say(quantity, heat.mean)} on the last day`,
    number: figure('Degree heating weeks', heat.weeks, 1, unit),
    limit: {
      ...figure(
        grave ? 'Death widespread from' : 'Bleaching usual from',
        grave ? values.death : values.bleaching,
        0,
        unit,
      ),
      source: `NOAA Coral Reef Watch, Skirving et al. 2020; counted from ${baseWords(facts, heat.usual)}.`,
    },
    figures: [
      { label: 'Warmest usual month', text: `${say(quantity, heat.usual.degC)}: ${baseNote(heat.usual)}` },
      { label: 'Above it on the last day', text: sayDifference(quantity, heat.hotspot, heat.mean) },
      ...(heat.missing === 0
        ? []
        : [{ label: 'Days without a temperature', text: `${heat.missing} of 84: it is at least this much` }]),
      {
        label: 'If the thermometer is off by 0.3 °C',
        text: 'the sum is off by up to 3.6 °C-weeks: read a second one',
      },
      amountFigure(facts, heat),
    ],
    why: `One day a little too warm does no harm; weeks of it do.${nitrateWords(facts, now)}`,
    ...advised(
      people('Isolate the mains before hands go in.'),
      measure('Read a second thermometer.'),
      measure('Move or cut nothing meanwhile.', hold('place')),
      correct(
        'Cool slowly, by at most 1 °C a day: chiller, fans, air.',
        down('level', 'temperature', 'slow'),
      ),
      correct('Shade the lamps by a third, since bright light adds to heat.', down('light')),
    ),
    evidence: readingEvidence(
      quantity,
      readings.filter(({ day }) => day > dayOf(now) - shownDays),
    ),
  };
}

function amountFigure(facts: SystemFacts, { usual }: Heat) {
  const shown = amount(quantityNamed(facts, 'temperature'), 'Counts in full from', usual.degC + 1);
  return { label: shown.label, text: `${shown.text} ${shown.unit}` };
}

/** Inside the band it is milder: the farm keeps such warmth, the stock is only not used to it. */
function severityOf(facts: SystemFacts, { mean }: Heat, grave: boolean): Severity {
  const edge = facts.kept.get('temperature')?.bandHigh ?? null;
  const inside = edge !== null && mean <= edge;
  if (inside) return grave ? 'today' : 'watch';
  return grave ? 'now' : 'today';
}

function baseWords(facts: SystemFacts, usual: UsualWarmth): string {
  const text = say(quantityNamed(facts, 'temperature'), usual.degC);
  if (usual.from === 'own summer') return `${text}, the warmest month of this system’s own year`;
  return usual.from === 'band' ? `${text}, the upper edge of this system’s band` : `${text}, common practice`;
}

const notes: Record<UsualWarmth['from'], string> = {
  'own summer': 'mean of the warmest month in its own year of readings',
  band: 'the upper edge of its band, since it has no year of readings yet',
  practice: 'common practice, since it has neither a year of readings nor a band',
};

const baseNote = ({ from }: UsualWarmth): string => notes[from];

function nitrateWords(facts: SystemFacts, now: Date): string {
  const raised = nitrateRaised(facts, now);
  if (raised === null) return '';
  return ` Nitrate is raised too (${say(quantityNamed(facts, 'nitrate'), raised.level.value)}), with which corals stand less heat (Nature Climate Change 2012; Estuar. Coast. Shelf Sci. 88, 2010).`;
}
