import { advised, again, measure, noted } from '../../../alerts/advice.ts';
import { type Finding, plainFinding } from '../../../alerts/finding.ts';
import { numberWords, plural } from '../../../platform/words/numbers.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import { type RackShift, rackShift } from '../../../science/whiteness/lightening.ts';
import { SHIFTED } from '../../../science/whiteness/limits.ts';
import type { RackShots } from '../../../stock/rack-photographs/measures.ts';
import type { SystemFacts } from '../../facts/types.ts';
import { defineRule } from '../../rule-definition/rule.ts';
import { photographEnded } from '../endings/photographs.ts';
import { lampBrightenedKey, lastLampChange, lastTurnedUp } from '../light/lamp-changes.ts';
import { dateOfDay, figure, numberOf } from '../shared/words.ts';
import { followed } from './lightened.ts';

const source = 'own choice, tuned on simulated photographs (npm run bench:whiteness)';
const parameters = {
  least: {
    label: 'Ignore shifts (L*) below',
    unit: '',
    default: SHIFTED.least,
    low: 1,
    high: 20,
    source,
  },
} as const;

/** Photographs older than this no longer ask for anything, days; what was told stays until it is less than this part (own choices). */
const [FRESH_DAYS, STAYS] = [60, 0.6];

/** A rack whose lots look lighter, or darker, together. */
export const rackShiftRule = defineRule({
  name: 'rack-shift',
  heading: 'A whole rack lighter or darker in photographs',
  watches:
    'Tells when the lots of a rack look lighter or darker together in two photographs. That may be the lamps’ colour, the cards or the water, or the lots: photographs alone cannot say. It is one alert on the rack, and is taken out before single lots are judged.',
  byKind: false,
  parameters,
  quietHours: 0,
  untried: 'How far photographs differ is learnt from all of them; the past is not judged again.',
  ended: photographEnded,
  evaluate(facts, settings, now) {
    const { least } = settings();
    return facts.photographs.flatMap((rack) => {
      const shift = rackShift(followed(rack));
      if (shift === null || dayOf(now) - shift.days[1] > FRESH_DAYS) return [];
      const size = Math.min(Math.abs(shift.mean) / least, shift.sure / SHIFTED.sure);
      return size < STAYS ? [] : [finding(facts, rack, shift, { size, least }, now)];
    });
  },
});

function finding(
  facts: SystemFacts,
  rack: RackShots,
  shift: RackShift,
  { size, least }: { size: number; least: number },
  now: Date,
): Finding {
  const lighter = shift.mean > 0;
  const word = lighter ? 'lighter' : 'darker';
  const by = numberWords(Math.abs(shift.mean), 1);
  const lamp = facts.lamps.find(({ id }) => id === facts.racks.find((one) => one.id === rack.rackId)?.lampId);
  const turned = lamp === undefined ? null : lastLampChange(lamp, dayOf(now));
  const between = turned !== null && turned.day > shift.lineDay && turned.day < shift.days[1] ? turned : null;
  const up = lamp === undefined ? null : lastTurnedUp(lamp, dayOf(now));
  return {
    ...plainFinding,
    ...{ rule: 'rack-shift', subject: { type: 'rack', id: rack.rackId }, systemId: facts.systemId },
    href: `/racks/${rack.rackId}/photographs`,
    status: size >= 1 ? 'fires' : 'stays',
    severity: 'watch',
    score: size,
    title: `${rack.rackName}: the lots look ${word} together in photographs`,
    numbers: `${by} L* ${word} than usual in two photographs, ${plural(shift.lots, 'lot', 'lots')}`,
    number: figure('Shift of the whole rack, L*', shift.mean, 1),
    limit: { ...figure('Least that is told, L*', least, 1), source },
    large: { text: `${by} L*`, unit: '', more: `${word} than usual` },
    figures: [
      ...shift.days.map((day, i) => ({
        label: dateOfDay(day, facts),
        text: `${numberWords(shift.by[i] ?? 0, 1)} L* against its usual`,
      })),
      ...(between === null
        ? []
        : [
            {
              label: 'Lamps turned between',
              text: `from ${numberOf(between.from)} to ${numberOf(between.to)} % on ${dateOfDay(between.day, facts)}`,
            },
          ]),
    ],
    why: `They moved together, so it says nothing of one lot. The lamps’ colour, the cards or the water may have changed${lighter ? ', or these lots are paling together' : ''}: photographs alone cannot say which.`,
    ...advised(
      ...(lighter ? [measure('Look at three of its lots by eye first.')] : []),
      noted(
        measure('Wipe the cards. See that the same lamp setting and camera are used as before.'),
        'The cards take out how bright and how tinted the light was; not how corals glow under blue light, nor cards that yellowed or are overgrown.',
      ),
      again('Photograph the rack again at the usual hour.'),
    ),
    evidence: shift.days.toReversed().flatMap((day) => {
      const shot = rack.shots.find((one) => one.day === day);
      return shot === undefined
        ? []
        : [
            {
              kind: 'photograph' as const,
              ...{ id: shot.id, at: shot.at, text: `Photograph of ${rack.rackName}` },
              note: plural(shot.lots.size, 'lot measured', 'lots measured'),
            },
          ];
    }),
    causes: lighter && up !== null && up.day < shift.days[0] ? [lampBrightenedKey(up.lamp.id)] : [],
  };
}
