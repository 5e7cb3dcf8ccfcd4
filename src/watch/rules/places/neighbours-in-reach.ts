import {
  type Advice,
  advised,
  again,
  done,
  isolate,
  measure,
  noted,
  optimise,
} from '../../../alerts/advice.ts';
import { type Evidence, type Finding, plainFinding, type Severity } from '../../../alerts/finding.ts';
import { urgencyBySource } from '../../../alerts/unchecked.rules.ts';
import type { ConditionState } from '../../../generated/prisma/enums.ts';
import { memoizeWith } from '../../../platform/memoize.ts';
import { mmWords } from '../../../platform/units/measures.ts';
import { scales } from '../../../platform/units/scales.ts';
import { plural } from '../../../platform/words/numbers.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import { ASSUMED_PITCH_MM, ASSUMED_SIZE_MM } from '../../../stock/places/reach.rules.ts';
import type { ConditionFact, LotFact, SystemFacts } from '../../facts/types.ts';
import { defineRule } from '../../rule-definition/rule.ts';
import { placeEnded } from '../endings/places.ts';
import { lookEvidence, signSince } from '../shared/conditions.ts';
import { groupedByRack, type LotFinding } from '../shared/group-by-rack.ts';
import { lotName, lotsWords, placementEvidence, whereWords } from '../shared/place-words.ts';
import { dateOfDay, figure, smallLength } from '../shared/words.ts';
import { type Pair, reachingPairs } from './neighbour-pairs.ts';

const parameters = {
  pitch: {
    label: 'Slot to slot, where the rack’s own measure is missing',
    unit: 'mm',
    scale: scales.mm,
    default: ASSUMED_PITCH_MM,
    low: 20,
    high: 300,
    source: 'own choice: two fingers of water around a plug; measure the rack to replace it',
  },
};

/** Days after two came together at which both are looked at, at night. */
const checks = [3, 14];
/** For so long after each it is asked for. */
const askedFor = 4;
const checkSource =
  'a crystal coral without sweepers for 3 months had them 3 days after a hammer coral moved in (aggression article)';
const signs: readonly ConditionState[] = ['receding', 'polyps_shut', 'bleached'];
const shownPairs = 8;

/** A lot within reach of another of another kind. */
export const neighboursInReach = defineRule({
  name: 'neighbours-in-reach',
  heading: 'Neighbours within reach',
  watches:
    'Compares, pair by pair, the water between two lots of one rack with how far each of them reaches. Look at a new neighbour by night on days 3 and 14. Pieces of one colony and lots of one kind are left side by side.',
  byKind: false,
  parameters,
  untried: 'Only the places of today are known to this rule, not those of the past.',
  quietHours: 0,
  ended: placeEnded,
  evaluate(facts, settings, now) {
    const { pitch } = settings();
    const byLot = reachingPairs(facts, pitch);
    const today = dayOf(now);
    const found = [...byLot].map(([lot, pairs]) =>
      findingOf(
        lot,
        pairs,
        dueAmong(pairs, today),
        nextOf(pairs, today),
        pitch,
        facts.systemId,
        facts.timeZone,
      ),
    );
    return groupedByRack(facts, found, (rack, lots) => ({
      title: `${rack.name}: ${lotsWords(lots.length)} can sting or be stung`,
      numbers: lots
        .map(({ lot }) => lotName(lot))
        .slice(0, 4)
        .join(', '),
      number: figure('Lots within reach', lots.length, 0),
      limit: {
        ...figure('Lots of one rack that are one alert, from', 3, 0),
        source: 'own choice: three of one rack are a matter of its lay-out',
      },
      why: 'Kinds that can sting each other are mixed on this rack. One may be peaceful for months and sting within days.',
      ...advised(
        measure('Look at the newest by night.'),
        optimise(
          'Leave a slot or two free between kinds, or plan moves that put each kind together.',
          done('place'),
        ),
      ),
    }));
  },
});

/** A check that is due: which day, and until when it is asked for. Null when both were looked at since. */
function checkDue(pair: Pair, today: number): number | null {
  const due = checks.find((day) => today >= pair.sinceDay + day && today < pair.sinceDay + day + askedFor);
  if (due === undefined) return null;
  const looked = [pair.newcomer, pair.other].every(({ conditions }) =>
    conditions.some(({ day }) => day >= pair.sinceDay + due - 0.5),
  );
  return looked ? null : due;
}

const dueAmong = (pairs: readonly Pair[], today: number): number | null =>
  pairs.map((pair) => checkDue(pair, today)).find((day) => day !== null) ?? null;

interface Harm {
  lot: LotFact;
  look: ConditionFact;
  /** The two it happened between. */
  pair: Pair;
}

/** Whether the other of the two reaches this lot: one that alone reaches is not harmed by it. */
const isReached = (lot: LotFact, { mutual, alike, reacher }: Pair): boolean =>
  mutual || alike || reacher !== lot;

function harmOf(pairs: readonly Pair[]): Harm | null {
  for (const pair of pairs) {
    for (const lot of [pair.newcomer, pair.other]) {
      const look = isReached(lot, pair) ? signSince(lot, signs, pair.sinceDay) : null;
      if (look !== null) return { lot, look, pair };
    }
  }
  return null;
}

const closestFirst = (pairs: readonly Pair[]): Pair[] =>
  [...pairs].sort((a, b) => a.gapMm - a.reachMm - (b.gapMm - b.reachMm));

/** How many days after they came together the closest two are looked at next; null when both checks are over. */
function nextOf(pairs: readonly Pair[], today: number): number | null {
  const [worst] = closestFirst(pairs);
  return checks.find((day) => worst !== undefined && worst.sinceDay + day > today) ?? null;
}

/** The same while they stand as they do and no other check is due: most of a crowded rack, from hour to hour. */
const findingOf = memoizeWith((lot) => lot, describe);

function describe(
  lot: LotFact,
  pairs: readonly Pair[],
  due: number | null,
  next: number | null,
  pitch: number,
  systemId: string,
  timeZone: string,
): LotFinding {
  const facts = { systemId, timeZone };
  const harm = harmOf(closestFirst(pairs));
  // What is told and drawn is the pair in which one is unwell, else the closest.
  const others = closestFirst(pairs).filter((pair) => pair !== harm?.pair);
  const closest = harm === null ? others : [harm.pair, ...others];
  const [worst] = closest as [Pair];
  const calm = urgencyBySource(due === null ? 'watch' : 'today', worst.source);
  const severity: Severity = harm === null ? calm : harmful(harm);
  const finding: Finding = {
    ...plainFinding,
    rule: 'neighbours-in-reach',
    subject: { type: 'lot', id: lot.id },
    systemId: facts.systemId,
    href: `/stock/${lot.code}`,
    // A distance that nobody measured raises nothing by itself.
    status: worst.estimated && harm === null && due === null ? 'stays' : 'fires',
    severity,
    score: { watch: 1, today: 2, now: 4 }[severity] + (worst.reachMm - worst.gapMm) / 500,
    title: titleOf(lot, pairs, harm),
    numbers: apartWords(worst),
    number: smallLength(
      worst.estimated ? 'Water between them, estimated' : 'Water between them',
      worst.gapMm,
    ),
    limit: { ...smallLength(`Reach of ${worst.reacher.kindName}`, worst.reachMm), source: worst.source },
    figures: figuresOf(facts, worst, pitch, due !== null || next !== null),
    why: 'A coral can harm a neighbour of another kind: by stinging tentacles, mostly at night, by growing over it, or by what it gives off. Tentacles can grow within days of a new neighbour and strip the weaker coral (Mar. Ecol. Prog. Ser. 313 (2006) 115: 55 % of its flesh in a year, 30 % killed).',
    ...advised(...stepsOf(facts, worst, harm, due, next)),
    evidence: [
      ...(harm === null ? [] : [lookEvidence(harm.look)]),
      ...closest.slice(0, shownPairs).map((pair) => pairEvidence(pair, lot)),
    ],
  };
  return { lot, finding };
}

type Zoned = Pick<SystemFacts, 'timeZone'>;

/**
 * What is wrong was seen; that the neighbour did it is a guess where nobody measured how near it is and it would not reach
 * twice as far (own choice: about how wrong a usual pitch and size are).
 */
const isGuess = ({ estimated, reachMm, gapMm }: Pair): boolean => estimated && reachMm < 2 * gapMm;

const harmful = ({ look, pair }: Harm): Severity =>
  look.state === 'polyps_shut' || isGuess(pair) ? 'today' : 'now';

/** "30 mm apart, 247-6TY reaches 200 mm". */
function apartWords({ estimated, gapMm, alike, reacher, reachMm }: Pair): string {
  const reaches = `${alike ? 'each' : lotName(reacher)} reaches ${mmWords(reachMm)}`;
  return `${estimated ? 'about ' : ''}${mmWords(gapMm)} apart, ${reaches}`;
}

function titleOf(lot: LotFact, pairs: readonly Pair[], harm: Harm | null): string {
  const [only] = pairs;
  const with_ = pairs.length === 1 && only !== undefined ? lotName(only.other) : `${pairs.length} neighbours`;
  return harm === null
    ? `${whereWords(lot)}: ${stingWords(lot, pairs)} ${with_}`
    : `${whereWords(lot)}: ${lotName(harm.lot)} ${isGuess(harm.pair) ? 'is unwell' : 'suffers'} beside ${harm.lot === lot ? with_ : lotName(lot)}`;
}

/** Who stings whom: this lot all of the others, they this lot, or some of both. */
function stingWords(lot: LotFact, pairs: readonly Pair[]): string {
  const stung = pairs.filter(({ alike, mutual, reacher }) => alike || mutual || reacher === lot).length;
  return stung === pairs.length ? 'can sting' : stung === 0 ? 'can be stung by' : 'is too close to';
}

function figuresOf(facts: Zoned, pair: Pair, pitch: number, isLookedAt: boolean): Finding['figures'] {
  const days = checks.map((day) => dateOfDay(pair.sinceDay + day, facts)).join(' and ');
  return [
    { label: 'Of the two', text: pair.mutual ? 'both reach' : `only ${lotName(pair.reacher)} reaches` },
    { label: 'Side by side since', text: dateOfDay(pair.sinceDay, facts) },
    ...(isLookedAt
      ? [{ label: 'To look at by night on', text: `${days} (days 3 and 14: ${checkSource})` }]
      : []),
    ...(pair.estimated
      ? [
          {
            label: 'How sure',
            text: `estimated: slots taken as ${mmWords(pitch)} apart where the rack’s measure is missing, pieces as ${mmWords(ASSUMED_SIZE_MM)} where their size is`,
          },
        ]
      : []),
  ];
}

function stepsOf(
  facts: Zoned,
  { newcomer, other, sinceDay, reachMm }: Pair,
  harm: Harm | null,
  due: number | null,
  next: number | null,
): Advice[] {
  const apart = `more than ${mmWords(reachMm)} of water between them`;
  if (harm !== null && isGuess(harm.pair))
    return [
      noted(
        measure('Look at both tonight by torch. Measure the water between them.'),
        'Nobody measured how near they are, so that its neighbour did it is a guess.',
      ),
      optimise(`Set them apart if you see them touch, ${apart}.`, done('place')),
      again(`Look at the edge of ${lotName(harm.lot)} tomorrow.`),
    ];
  if (harm !== null)
    return [
      isolate(`Set them apart today, ${apart}.`, done('apart')),
      again(`Look at the edge of ${lotName(harm.lot)} tomorrow.`),
    ];
  if (due !== null)
    return [
      noted(
        measure(`Look at ${lotName(newcomer)} and ${lotName(other)} tonight by torch. Record how both are.`),
        `They have been side by side for ${plural(due, 'day', 'days')}.`,
      ),
      optimise(`Set them apart if you can, ${apart}.`, done('place')),
    ];
  const until = next === null ? '' : ` Look at both by night on ${dateOfDay(sinceDay + next, facts)}.`;
  return [optimise(`Set them apart, ${apart}.${until}`, done('place'))];
}

function pairEvidence(pair: Pair, lot: LotFact): Evidence {
  const against = pair.other === lot ? pair.newcomer : pair.other;
  return {
    ...placementEvidence(against, apartWords(pair)),
    text: `${lotName(against)}, ${against.kindName}, on ${against.place}`,
  };
}
