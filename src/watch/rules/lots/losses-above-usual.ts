import { advised, again, isolate, measure, noted } from '../../../alerts/advice.ts';
import { type Finding, plainFinding } from '../../../alerts/finding.ts';
import { memoizeWith } from '../../../platform/memoize.ts';
import { numberWords, plural } from '../../../platform/words/numbers.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import {
  isAboveUsual,
  judgeLosses,
  judgeWithout,
  type LossesJudged,
  type LossHistory,
  windowDays,
} from '../../../stock/losses/usual.rules.ts';
import type { SystemFacts } from '../../facts/types.ts';
import { defineRule } from '../../rule-definition/rule.ts';
import { lotsWords } from '../shared/place-words.ts';
import { figure } from '../shared/words.ts';
import { sharedBy } from './affected-share.ts';

const parameters = {
  chance: {
    label: 'Alert when chance alone brings as many in fewer of 1,000 cases than',
    unit: '',
    default: 1,
    low: 0.1,
    high: 20,
    source: 'own choice, tuned on simulated farms (npm run bench:losses)',
  },
} as const;

const rule = 'losses-above-usual';
/** An open alert stays until as much is likelier than this by accident (own choice). */
const staysUntil = 0.05;
/** From this share of the lots on it is act now (own choice). */
const grave = 0.25;

/** Worked out once for a system's facts at a moment. */
const judgedAt = memoizeWith((history: LossHistory, _: number) => history, judgeLosses);

/** Lots that lost pieces of late against the same water's own past, of the system and of each kind in it. */
export const lossesAboveUsual = defineRule({
  name: rule,
  heading: 'Losses above usual',
  watches:
    'Compares the lots that lost pieces in the last two weeks with those of each two weeks of the past year, for the system and for each kind in it. What was dead on arrival, broke, went astray, was given away or thrown out is left out. It says nothing before eight weeks of own past.',
  byKind: false,
  parameters,
  quietHours: 24,
  ended: () => 'losses are as usual here again',
  evaluate(facts, settings, now) {
    const today = dayOf(now);
    const { all, kinds } = judgedAt(facts.losses, today);
    const limit = settings().chance / 1000;
    const isTold = (one: LossesJudged) => isAboveUsual(one, staysUntil);
    const told = kinds.filter((one) => isAboveUsual(one, limit));
    const staying = kinds.filter((one) => isTold(one) && !told.includes(one));
    const left =
      told.length === 0 || !isTold(all)
        ? all
        : judgeWithout(facts.losses, new Set(told.map(({ kindId }) => kindId ?? '')), today);
    return [...told, ...staying, ...(isTold(left) ? [left] : [])].map((one) =>
      finding(facts, one, isAboveUsual(one, limit)),
    );
  },
});

const share = (part: number): string => `${numberWords(100 * part, part < 0.1 ? 1 : 0)} %`;

function finding(facts: SystemFacts, one: LossesJudged, fires: boolean): Finding {
  const { kindId, kindName, lots, losing, codes, lotIds, pieces, pastLots, pastLosing, windows } = one;
  const usual = one.usual ?? { share: 0, low: 0, high: 0 };
  const now = one.now ?? { low: 0, high: 0 };
  const where = kindId === null ? facts.name : `${facts.name}: ${kindName}`;
  return {
    ...plainFinding,
    rule,
    subject: { type: 'system', id: facts.systemId },
    facet: kindId ?? '',
    systemId: facts.systemId,
    href: '/stock/losses',
    status: fires ? 'fires' : 'stays',
    severity: losing / lots >= grave ? 'now' : 'today',
    score: Math.max(1, losing / lots / Math.max(usual.share, 1 / pastLots)),
    title: `${where}: more losses than usual`,
    numbers: `${plural(losing, 'lot', 'lots')} of ${numberWords(lots)} in two weeks; usual ${share(usual.share)}`,
    number: figure(`Lots that lost pieces in ${windowDays} days`, losing, 0),
    limit: {
      ...figure('As many by accident, of a thousand', 1000 * (one.p ?? 1), 2),
      source: parameters.chance.source,
    },
    figures: [
      {
        label: 'Now',
        text: `${share(losing / lots)} of the lots (95 %: ${share(now.low)} to ${share(now.high)})`,
      },
      {
        label: 'Usual',
        text: `${share(usual.share)} in two weeks (95 %: ${share(usual.low)} to ${share(usual.high)}), from ${lotsWords(pastLosing)} in ${windows} times two weeks`,
      },
      { label: 'Pieces lost', text: numberWords(pieces) },
      { label: 'Lots', text: codes.join(', ') },
    ],
    why: 'It is more than chance makes of the losses this water usually has. Something changed.',
    ...advised(
      isolate('Set nothing else into or out of this water until you know why.'),
      measure('Look at every lot of this water today. Note each that is not well.'),
      noted(
        measure('Open “What affected lots share” and look at what it names first.'),
        'It compares them with all others by place, kind, origin, cut and what changed.',
      ),
      again('Look again tomorrow, and say the cause of each loss.'),
    ),
    lots: lotIds,
    causes: sharedBy(facts, lotIds),
  };
}
