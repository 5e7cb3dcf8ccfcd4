import { advised, air, measure, noted } from '../../../alerts/advice.ts';
import { type Finding, type FindingKey, plainFinding } from '../../../alerts/finding.ts';
import { whenWords } from '../../../platform/words/times.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import type { SilentDeviceFact, SystemFacts } from '../../facts/types.ts';
import { defineRule } from '../../rule-definition/rule.ts';
import { lengthFigure } from '../shared/words.ts';

const rule = 'device-silent';

const keyOf = ({ systemId }: Pick<SystemFacts, 'systemId'>, { topic }: SilentDeviceFact): FindingKey => ({
  rule,
  subject: { type: 'system', id: systemId },
  facet: topic,
});

/** The silent devices that carry a probe, so that its own silence is part of what is told of them. */
export const devicesOf = (
  facts: Pick<SystemFacts, 'systemId' | 'silentDevices'>,
  kitId: string,
): FindingKey[] =>
  facts.silentDevices
    .filter(({ probes }) => probes.some((probe) => probe.kitId === kitId))
    .map((device) => keyOf(facts, device));

/** A device whose last will the broker told, until it is heard again. */
export const deviceSilent = defineRule({
  name: rule,
  heading: 'Device silent by its last will',
  watches:
    'What devices leave with the broker as their last will. The broker tells it as soon as a device is gone, long before its probes have missed enough reports. One alert a device, until it says that it is back.',
  byKind: false,
  parameters: {},
  quietHours: 0,
  untried: 'Only whether a device is silent now is known; the past is not kept.',
  ended: () => 'the device was heard again, or the farm no longer listens to its topic',
  evaluate: (facts, _settings, now) => facts.silentDevices.map((device) => finding(facts, device, now)),
});

function finding(facts: SystemFacts, device: SilentDeviceFact, now: Date): Finding {
  const { topic, since, sinceDay, probes } = device;
  const at = new Date(since);
  const carried = probes.map(({ label, systemName }) =>
    systemName === facts.name ? label : `${label} (${systemName})`,
  );
  return {
    ...plainFinding,
    ...keyOf(facts, device),
    systemId: facts.systemId,
    href: '/water/topics',
    status: 'fires',
    severity: 'today',
    score: 1,
    title: `${facts.name}: a device is silent`,
    numbers: `${topic}, since ${whenWords(at, facts.timeZone, now)}`,
    number: lengthFigure('Silent for', Math.max(0, (dayOf(now) - sinceDay) * 1440)),
    limit: { ...lengthFigure('Allowed', 0), source: 'the last will that the device left with the broker' },
    began: { from: since, to: since },
    figures: [
      { label: 'Topic of its last will', text: topic },
      {
        label: 'Its probes',
        text: carried.length === 0 ? 'not known: no probe has a name in its branch' : carried.join(', '),
      },
    ],
    why:
      carried.length === 0
        ? 'What it measures or switches is not known. Since then nobody knows whether it still does.'
        : `Its ${carried.length === 1 ? 'probe' : 'probes'} told nothing since then. What it switches may stand still.`,
    ...advised(
      noted(
        air('Go there first. See that the power is on and that water moves.'),
        'The broker told its last will: its power, its network or the device itself is gone.',
      ),
      measure('Look at its power, its cable and the network. Test by hand what it measured.'),
    ),
  };
}
