import { advised, again, measure } from '../../../alerts/advice.ts';
import { type Evidence, type Finding, type FindingKey, plainFinding } from '../../../alerts/finding.ts';
import { numberWords, plural } from '../../../platform/words/numbers.ts';
import { dayMs, dayOf } from '../../../science/numeric/time.ts';
import { repeatability } from '../../../science/statistics/repeatability.ts';
import type { Asked } from '../../../science/whiteness/lightening.ts';
import { LIGHTENING } from '../../../science/whiteness/limits.ts';
import type { LotFact, SystemFacts } from '../../facts/types.ts';
import type { ParameterSet } from '../../rule-definition/parameters.ts';
import { defineRule, type SettingsFor } from '../../rule-definition/rule.ts';
import { photographEnded } from '../endings/photographs.ts';
import { lampBrightenedKey, lastTurnedUp } from '../light/lamp-changes.ts';
import { groupedByRack, type RackWords } from '../shared/group-by-rack.ts';
import { whereWords } from '../shared/place-words.ts';
import { dateOfDay, figure } from '../shared/words.ts';
import { sharedBy } from './affected-share.ts';
import { followed, type Lightened, lightenedOf, lighteningKey } from './lightened.ts';

const source = 'own choice, tuned on simulated photographs (npm run bench:whiteness)';
const parameters = {
  sure: {
    label: 'How sure before an alert, in standard errors',
    unit: '',
    default: LIGHTENING.sure,
    low: 1.5,
    high: 6,
    source,
  },
  share: {
    label: 'Ignore lightening, of the way to white, below',
    unit: '%',
    default: 100 * LIGHTENING.share,
    low: 3,
    high: 50,
    source,
  },
} as const;

/** From this part of the way to white on somebody looks today (own choice). */
const MUCH = 0.15;

/** Lots that two photographs of their rack show lighter than they were. */
export const lightening = defineRule({
  name: 'lightening',
  heading: 'Lighter in photographs',
  watches:
    'Follows how white each lot is in photographs of its rack, against its own past. What the whole rack shares, as another lamp or another hour, is taken out. Two photographs in which a lot is lighter than photographs of an unchanged lot differ ask for a look. It never says act now.',
  byKind: false,
  parameters,
  quietHours: 0,
  untried: 'How far photographs differ is learnt from all of them; the past is not judged again.',
  ended: photographEnded,
  evaluate(facts, settings, now) {
    if (facts.photographs.length === 0) return [];
    const asked = lighteningAsked(settings);
    const found = facts.lots.flatMap((lot) => {
      const lightened = lightenedOf(facts, lot, asked, now);
      return lightened === null ? [] : [{ lot, finding: finding(facts, lot, lightened, asked, now) }];
    });
    return groupedByRack(facts, found, rackWords);
  },
});

/** What is asked of a lot before its lightening is told, by the numbers that hold in the system. */
export function lighteningAsked({ of }: Pick<SettingsFor<ParameterSet>, 'of'>): Asked {
  const { sure, share } = of(lightening)();
  return { sure, share: share / 100 };
}

const lStar = (value: number) => numberWords(value, 1);
const percent = (share: number) => `${numberWords(100 * share, 0)} %`;

function finding(
  facts: SystemFacts,
  lot: LotFact,
  { judged, status, rack }: Lightened,
  asked: Asked,
  now: Date,
): Finding {
  const { scatter, visits } = followed(rack);
  const [before, after] = judged.days.map((day) => dateOfDay(day, facts));
  const within = repeatability(scatter.sd);
  return {
    ...plainFinding,
    ...lighteningKey(lot.id),
    systemId: facts.systemId,
    href: `/stock/${lot.code}#photographed`,
    status,
    severity: judged.share >= MUCH ? 'today' : 'watch',
    score: Math.max(0.5, judged.share / asked.share),
    title: `${whereWords(lot)}: lighter in two photographs`,
    numbers: `${lStar(judged.mean)} L* lighter than its own line, ${percent(judged.share)} of the way to white`,
    number: figure('Lighter than its own line, of the way to white', 100 * judged.share, 0, '%'),
    limit: { ...figure('Least that is told, of the way to white', 100 * asked.share, 0, '%'), source },
    large: { text: percent(judged.share), unit: '', more: 'of the way to white' },
    began: { from: momentOf(rack, judged.lineDay), to: momentOf(rack, judged.days[0]) },
    figures: [
      { label: 'Kind', text: lot.kindName },
      {
        label: 'Its own line',
        text: `${lStar(judged.line)} L*, by ${plural(judged.visits, 'visit', 'visits')} until ${dateOfDay(judged.lineDay, facts)}`,
      },
      { label: before ?? '', text: `${lStar(judged.lighter[0])} L* above it` },
      { label: after ?? '', text: `${lStar(judged.lighter[1])} L* above it` },
      {
        label: 'Two photographs of an unchanged lot',
        text: `differ by up to ${lStar(within)} L* here, by ${plural(visits.length, 'visit', 'visits')}`,
      },
      {
        label: 'How sure',
        text: `${numberWords(judged.sure, 1)} standard errors above its line; told from ${numberWords(asked.sure, 1)} on`,
      },
    ],
    why: `What all lots of ${rack.rackName} share is taken out. A photograph tells no cause: paling, new growth and a wrong outline can look so.`,
    ...advised(
      measure('Look at it by eye, and at the outlines in both photographs.'),
      measure('Record how it looks, well too.'),
      again('Photograph its rack again in a few days.'),
    ),
    evidence: evidenceOf(lot, rack, judged.days),
    causes: causesOf(facts, lot, judged.days[0], dayOf(now)),
  };
}

const momentOf = ({ shots }: Lightened['rack'], day: number): string =>
  shots.find((shot) => shot.day === day)?.at ?? new Date(day * dayMs).toISOString();

/** The photographs of both visits, the newest first. */
const evidenceOf = (
  lot: LotFact,
  { shots, rackName }: Lightened['rack'],
  days: readonly number[],
): Evidence[] =>
  days.toReversed().flatMap((day) => {
    const shot = shots.find((one) => one.day === day);
    const seen = shot?.lots.get(lot.id);
    return shot === undefined
      ? []
      : [
          {
            kind: 'photograph' as const,
            ...{ id: shot.id, at: shot.at, text: `Photograph of ${rackName}` },
            note: seen === undefined ? '' : `${lot.code}: ${lStar(seen.L)} ±${lStar(seen.u)} L*`,
          },
        ];
  });

/** Noted by hand it is part of that; else its light, or what pale lots share. */
function causesOf(facts: SystemFacts, lot: LotFact, since: number, today: number): FindingKey[] {
  const own = (rule: string): FindingKey => ({ rule, subject: { type: 'lot', id: lot.id }, facet: '' });
  const lamp = facts.lamps.find(({ id }) => id === lot.lampId);
  const turned = lamp === undefined ? null : lastTurnedUp(lamp, today);
  return [
    own('condition-noted'),
    own('too-much-light'),
    ...(turned !== null && turned.day < since ? [lampBrightenedKey(turned.lamp.id)] : []),
    ...sharedBy(facts, [lot.id]),
  ];
}

const rackWords: RackWords = (rack, lots) => ({
  title: `${rack.name}: ${plural(lots.length, 'lot is', 'lots are')} lighter in two photographs`,
  numbers: `up to ${lots[0]?.finding.large?.text ?? ''} of the way to white, beyond what the rack shares`,
  number: figure('Lots lighter than their own line', lots.length, 0),
  limit: lots[0]?.finding.limit ?? { ...figure('', 0, 0), source },
  why: 'What all lots of the rack share is taken out, so it is not the light of the photograph alone. Where they stand together, or are of one kind, look there first.',
  ...advised(
    measure('Look at these lots by eye, and record how each looks.'),
    measure('Compare what they share: place, light, kind, cut.'),
    again('Photograph the rack again in a few days.'),
  ),
});
