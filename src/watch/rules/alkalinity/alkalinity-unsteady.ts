import { advised } from '../../../alerts/advice.ts';
import type { Finding } from '../../../alerts/finding.ts';
import type { SystemFacts } from '../../facts/types.ts';
import { defineRule, type SettingsFor } from '../../rule-definition/rule.ts';
import { waterEnded } from '../endings/water.ts';
import { alkalinityFalling } from './alkalinity-falling.ts';
import { swingFinding } from './swing-finding.ts';
import { swingParameters, swingRule } from './swing-watch.ts';

type Settings = SettingsFor<typeof swingParameters>;

/** Alkalinity that swings more than this system's usual. */
export const alkalinityUnsteady = defineRule({
  name: swingRule,
  heading: 'Alkalinity unsteady',
  watches:
    'Adds up the evidence that alkalinity swings twice as much around its slow mean as this system usually does. Test error, a kit that reads wrong, what the log says was put in and what corrections planned are taken out first. A level that falls or rises steadily is told as that, and an alert ends when two weeks were steady.',
  byKind: false,
  learns: true,
  parameters: swingParameters,
  quietHours: 4 * 24,
  ended: waterEnded('alkalinity'),
  evaluate(facts, settings, now) {
    const finding = swingFinding(facts, settings(), now);
    if (finding === null) return [];
    return [finding.facet === '' ? withItsFall(facts, finding, settings, now) : finding];
  },
});

/**
 * Where the level goes down towards its limit as it swings, one alert says both: the swing as the cause, and that it may fall as
 * well. The daily dose is left as it is: nobody knows that what is used did change. A fall for now leads instead, so that
 * nothing that was done about the swing makes it less urgent.
 */
function withItsFall(facts: SystemFacts, swings: Finding, settings: Settings, now: Date): Finding {
  const [fall] = alkalinityFalling.evaluate(facts, settings.of(alkalinityFalling), now);
  if (swings.status === 'unknown' || fall?.status !== 'fires' || fall.doubted) return swings;
  // One of the two leads: a fall for now has the swing told as part of it.
  if (!fall.causes.some(({ rule }) => rule === swingRule))
    return { ...swings, causes: [{ rule: fall.rule, subject: fall.subject, facet: fall.facet }] };
  return {
    ...swings,
    title: `${swings.title} and may fall`,
    numbers: `${swings.numbers}; ${fall.numbers}`,
    figures: [...swings.figures, ...fall.figures.filter(({ label }) => label !== 'Test uncertainty')],
    ...advised(
      ...swings.advice,
      ...fall.advice.filter(({ asks, phase }) => asks !== 'doser' && !['optimise', 'again'].includes(phase)),
    ),
    question: fall.question,
  };
}
