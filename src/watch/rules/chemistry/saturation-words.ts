import { advised, again, correct, done, measure, notUp, source, up } from '../../../alerts/advice.ts';
import { type Finding, plainFinding, type Severity } from '../../../alerts/finding.ts';
import { numberWords } from '../../../platform/words/numbers.ts';
import type { SystemFacts } from '../../facts/types.ts';
import { figure, nameOf, quantityNamed, readingEvidence } from '../shared/words.ts';
import type { Saturated } from './saturation-of-readings.ts';

/** Limits of aragonite saturation. */
type SaturationLimits = Readonly<Record<'dissolves' | 'low' | 'high', number>>;

/** What is said of a saturation that is low, or so high that carbonate drops out. */
export function saturationFinding(
  facts: SystemFacts,
  worked: Saturated,
  side: 'low' | 'high',
  status: Finding['status'],
  values: SaturationLimits,
): Finding {
  const { value, standardUncertainty: u, readings, phTotal } = worked;
  const dissolves = side === 'low' && value < values.dissolves;
  const limit = side === 'low' ? values.low : values.high;
  const text = `${numberWords(value, 1)} ± ${numberWords(u, 1)}`;
  return {
    ...plainFinding,
    rule: 'saturation',
    subject: { type: 'system', id: facts.systemId },
    facet: side,
    systemId: facts.systemId,
    href: `/water/systems/${facts.systemId}`,
    status,
    severity: severityOf(worked, side, values),
    score: side === 'low' ? limit / Math.max(0.1, value) : value / limit,
    title: `${facts.name}: ${titleOf(side, dissolves, value + u < values.dissolves)}`,
    numbers: `Aragonite saturation ${text}`,
    number: figure('Aragonite saturation', value, 1),
    limit: {
      ...figure(side === 'low' ? 'Low below' : 'Drops out from', limit, 1),
      source: sourceOf(side),
    },
    figures: [
      { label: 'Uncertainty', text: `± ${numberWords(u, 1)}, most of it from the pH` },
      {
        label: 'pH on the total scale',
        text: `${numberWords(phTotal, 2)}, taken for a probe set with ordinary buffers`,
      },
      {
        label: 'Calcium',
        text: readings.some(({ code }) => code === 'calcium')
          ? 'as read'
          : 'taken for the sea’s at this salinity',
      },
    ],
    ...adviceOf(side, dissolves),
    evidence: readings.flatMap(({ code, reading }) =>
      readingEvidence(quantityNamed(facts, code), [reading], nameOf(facts, code)),
    ),
    causes: ['ph', 'alkalinity'].map((facet) => ({
      rule: 'out-of-band',
      subject: { type: 'system' as const, id: facts.systemId },
      facet,
    })),
  };
}

function titleOf(side: 'low' | 'high', dissolves: boolean, surely: boolean): string {
  if (dissolves) return surely ? 'the water dissolves skeleton' : 'the water may dissolve skeleton';
  return side === 'low' ? 'the water holds little carbonate' : 'carbonate may drop out';
}

/** Precipitation half as high again is soon seen on pumps and heaters; own choice. */
const gravelyHigh = 1.5;

function severityOf(
  { value, standardUncertainty }: Saturated,
  side: 'low' | 'high',
  { high, dissolves }: SaturationLimits,
): Severity {
  if (side === 'high') return value >= gravelyHigh * high ? 'today' : 'watch';
  if (value >= dissolves) return 'watch';
  return value + standardUncertainty < dissolves ? 'now' : 'today';
}

const sourceOf = (side: 'low' | 'high'): string =>
  side === 'low'
    ? 'Below 1 aragonite dissolves (Dickson, Sabine & Christian 2007); the margin above it is an own choice.'
    : 'Biogeosciences 19 (2022) 3537, abstract: none at about 5, aragonite drops out on particles above 7; own choice for a tank.';

function adviceOf(side: 'low' | 'high', dissolves: boolean): Pick<Finding, 'why' | 'advice' | 'firstStep'> {
  if (side === 'high')
    return {
      why: 'Carbonate that drops out takes alkalinity and calcium with it and settles on pumps and heaters; it can run away.',
      ...advised(
        source(
          'Dose no carbonate or limewater until the pH has been read again with fresh buffers.',
          notUp('dose', 'alkalinity'),
        ),
        measure('Test magnesium, and let alkalinity come down by itself.'),
      ),
    };
  return {
    why: dissolves
      ? 'Below 1 bare skeleton dissolves and corals must work to keep what they have.'
      : 'The less carbonate the water holds, the slower and costlier corals build.',
    ...advised(
      measure('Read the pH again with a probe set on fresh buffers.'),
      correct(
        'Then drive carbon dioxide out: air the room, skim or stir the surface.',
        done('air'),
        up('level', 'ph', 'slow'),
      ),
      again('Correct alkalinity only if it is low by a confirmed test.'),
    ),
  };
}
