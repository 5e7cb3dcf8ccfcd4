import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { pagerOf } from '../../platform/views/pager.ts';
import { pageNumber } from '../../platform/web/fields.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { dayOf, daysBefore } from '../../science/numeric/time.ts';
import { gatheredHistories } from './kept-history.ts';
import { causeChoices, lossCause } from './losses.schema.ts';
import {
  type LossPeriod,
  lossesBefore,
  lossesByCause,
  lossPage,
  sayCause,
  systemsToJudge,
} from './losses.ts';
import { lossRows, lossTotals, usualRows } from './losses.words.ts';
import { judgeStays, pastDays, windowDays } from './usual.rules.ts';

/** What was lost and why, beside what is usual. */
export function lossPages(app: FastifyInstance, service: Service): void {
  app.get('/stock/losses', (request, reply) => show(service, request, reply));
  app.post('/stock/losses/:id/cause', takes(causeBody), (request, reply) =>
    postCause(service, request, reply),
  );
}

/** Days that can be shown. */
const periods = [30, 90, 365];
const period = z
  .object({ days: z.coerce.number().int().catch(90), say: z.uuid().catch(''), page: pageNumber() })
  .transform(({ days, ...rest }) => ({ days: periods.includes(days) ? days : 90, ...rest }));

/** Losses on one page (own choice: some screens of a phone). */
const perPage = 12;

/** The losses of a page, or of the page on which the one is whose cause is asked; and all by cause. */
async function shownOf(pool: Service['pool'], of: LossPeriod, { days, say, page }: z.output<typeof period>) {
  const [totals, before] = await Promise.all([
    lossesByCause(pool, of),
    say === '' ? null : lossesBefore(pool, of, say),
  ]);
  const total = totals.reduce((sum, { losses }) => sum + losses, 0);
  const last = Math.max(1, Math.ceil(total / perPage));
  const shown = before === null ? Math.min(page, last) : 1 + Math.floor(before / perPage);
  const hrefOf = (other: number) => `/stock/losses?days=${days}&page=${other}#each`;
  return {
    totals,
    losses: await lossPage(pool, of, { limit: perPage, offset: (shown - 1) * perPage }),
    pager: pagerOf({ page: shown, perPage, total }, hrefOf),
  };
}

async function show(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  { form = freshForm({ cause: '' }), asked }: { form?: FormState; asked?: string } = {},
) {
  const now = service.now();
  const shownWith = period.parse({ ...(request.query ?? {}), ...(asked && { say: asked, days: 365 }) });
  const { days, say } = shownWith;
  const systems = await systemsToJudge(service.pool, request.site.id);
  const of = { siteId: request.site.id, since: daysBefore(now, days), until: now };
  const [shown, histories] = await Promise.all([
    shownOf(service.pool, of, shownWith),
    gatheredHistories(
      service.pool,
      systems.map(({ id }) => id),
      { since: daysBefore(now, pastDays + 2 * windowDays), now },
    ),
  ]);
  const judged = systems.map(({ name, id }) => {
    const { kinds, deaths } = histories.get(id) ?? { kinds: [], deaths: [] };
    return { name, ...judgeStays(kinds, deaths, dayOf(now)) };
  });
  const data = {
    days,
    tabs: periods.map((one) => ({
      text: one === 365 ? 'A year' : `${one} days`,
      href: `/stock/losses?days=${one}`,
      current: one === days,
    })),
    usual: usualRows(judged),
    totals: lossTotals(shown.totals),
    rows: lossRows(shown.losses, say),
    pager: shown.pager,
    causes: causeChoices,
  };
  return showPage(service, request, reply, 'stock/losses', data, { title: 'Losses', area: 'stock', form });
}

const causeBody = z.object({ cause: lossCause() });

async function postCause(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This loss');
  return submit(request, reply, {
    schema: causeBody,
    act: (work, { cause }) => sayCause(work, id, cause),
    done: ({ code }) => ({ to: '/stock/losses', notice: `The cause of the loss of ${code} is noted.` }),
    again: (form) => show(service, request, reply, { form, asked: id }),
  });
}
