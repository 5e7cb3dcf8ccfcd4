import type { FastifyInstance, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { pageAsked, pageFields, pageOf } from '../../platform/door/pages.ts';
import { asks } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { checked } from '../../platform/web/json.ts';
import { showPage } from '../../platform/web/pages.ts';
import { plural } from '../../platform/words/numbers.ts';
import { daysBefore } from '../../science/numeric/time.ts';
import { kindsByRank } from '../kinds/kinds.ts';
import { survivalAnswer } from './answers.schema.ts';
import {
  type ComparedCut,
  GROUPING_CODES,
  GROUPINGS,
  type GroupingCode,
  type GroupSurvival,
  groupsOf,
  logRankOf,
  standsOut,
  survivalOf,
} from './compare.rules.ts';
import { followedCuts } from './survival.ts';
import { chanceWords, gapWords, shareWords, standsOutWords } from './survival.words.ts';
import { MOST_LINES, survivalChart } from './survival-chart.ts';

/** How cut pieces survive, as page and JSON. */
export function survivalPages(app: FastifyInstance, service: Service): void {
  app.get('/stock/survival', async (request, reply) => {
    const asked = askedOf(request);
    const kinds = await kindsByRank(service.db);
    const { cuts, gaps } = await cutsOf(service, request, asked);
    const data = {
      crumbs: [
        { href: '/stock', text: 'Stock' },
        { href: '/stock/cuts', text: 'Cuts' },
      ],
      asked,
      groupings: GROUPING_CODES.map((code) => ({ value: code, text: GROUPINGS[code] })),
      kinds: kinds
        .filter(({ rank }) => rank === 'taxon')
        .map(({ code, name }) => ({ value: code, text: name })),
      since: [
        { value: '365', text: 'The last year' },
        { value: '120', text: 'The last 120 days' },
        { value: 'all', text: 'All cuts' },
      ],
      ...viewOf(cuts, asked.by),
      gaps: gapWords(gaps),
    };
    return showPage(service, request, reply, 'stock/survival', data, {
      title: 'Survival of cut pieces',
      area: 'stock',
    });
  });
  app.get('/api/survival', asks(askedSchema.extend(pageQuery.shape), survivalAnswer), async (request) => {
    const asked = askedOf(request);
    const { cuts, gaps } = await cutsOf(service, request, asked);
    const { found, tooFew } = standsOut(cuts);
    const groups = groupsOf(cuts, asked.by);
    const told = groups.map((group) => survivalOf(group.name, group.cuts));
    const page = pageAsked<GroupPlace>(checked(pageQuery, request.query), placeSchema, bounds);
    const { some, next } = pageOf(told.filter(isBehind(page.after)), page.limit, placeOfGroup);
    return {
      by: asked.by,
      all: survivalOf('All', cuts),
      groups: some,
      next,
      logRank: logRankOf(told, groups),
      standsOut: found,
      tooFewToSay: tooFew,
      daysNotLookedAt: gaps,
    };
  });
}

const askedSchema = z.object({
  by: z.enum(GROUPING_CODES as [GroupingCode, ...GroupingCode[]]).catch('tool'),
  kind: z.string().max(100).catch(''),
  since: z.enum(['365', '120', 'all']).catch('365'),
});

/** Each mother, kind and rack is a group; one with its course is some kB (own choices). */
const bounds = { things: 'groups', most: 200, usual: 50 };

const pageQuery = z.object(pageFields(bounds));

/** Where a group stands: those of most pieces first, then by name. */
type GroupPlace = readonly [pieces: number, name: string];

const placeSchema = z.tuple([z.number(), z.string()]);

const placeOfGroup = ({ pieces, name }: GroupSurvival): GroupPlace => [pieces, name];

const isBehind = (after: GroupPlace | null) => (group: GroupSurvival) =>
  after === null ||
  group.pieces < after[0] ||
  (group.pieces === after[0] && group.name.localeCompare(after[1]) > 0);

const askedOf = (request: FastifyRequest) => askedSchema.parse(request.query ?? {});

function cutsOf(service: Service, request: FastifyRequest, { since, kind }: z.output<typeof askedSchema>) {
  const from = since === 'all' ? null : daysBefore(service.now(), Number(since));
  return followedCuts(service.pool, request.site.id, { since: from, kindCode: kind });
}

function viewOf(cuts: readonly ComparedCut[], by: GroupingCode) {
  const groups = groupsOf(cuts, by);
  const told = groups.map((group) => survivalOf(group.name, group.cuts));
  const test = logRankOf(told, groups);
  const { found, tooFew } = standsOut(cuts);
  const all = survivalOf('All cuts', cuts);
  const drawn = [all, ...told.filter((group) => !group.tooFew)].slice(0, MOST_LINES);
  const lines =
    found !== null && found.by !== by
      ? [
          all,
          survivalOf(
            found.name,
            groupsOf(cuts, found.by).find(({ name }) => name === found.name)?.cuts ?? [],
          ),
        ]
      : drawn;
  const days = 100;
  return {
    all: rowOf(all),
    rows: told.map(rowOf),
    byName: GROUPINGS[by],
    test:
      test === null
        ? 'Too few pieces or losses to say whether these groups differ.'
        : `Log-rank test between groups with enough pieces: ${test.p < 0.05 ? 'they differ' : 'no difference shown'} (by chance in ${chanceWords(test.p)} cases). Pieces of one cut share their fate, so the test is too sure; the sentence above counts whole cuts.`,
    found: found === null ? '' : standsOutWords(found),
    none: tooFew
      ? 'Too few to say: too few cuts were counted, or too few pieces lost.'
      : 'No tool, method, person, kind, mother, size or rack stands out.',
    picture:
      all.followed === 0
        ? null
        : {
            wide: survivalChart(lines, { width: 960, days }),
            narrow: survivalChart(lines, { width: 380, days }),
          },
    pictured: lines.map(({ name }) => name).join(', '),
  };
}

const rowOf = ({ name, cuts, pieces, followed, lost, at, tooFew }: ReturnType<typeof survivalOf>) => ({
  name,
  cuts: plural(cuts, 'cut', 'cuts'),
  pieces,
  unseen: pieces - followed,
  lost,
  at: at.map((one) => (tooFew ? 'too few to say' : shareWords(one))),
});
