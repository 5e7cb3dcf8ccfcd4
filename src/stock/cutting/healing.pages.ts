import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { pageOfList } from '../../platform/views/pager.ts';
import { pageQuery, text } from '../../platform/web/fields.ts';
import { submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { plural } from '../../platform/words/numbers.ts';
import { dateWords } from '../../platform/words/times.ts';
import { daysBefore, daysBetween } from '../../science/numeric/time.ts';
import { lotHref } from '../base/lot-href.ts';
import { askWhyTakenBack } from '../base/taking-back.ts';
import { ASKED_DAYS, type HealingStage, healingStages, healingWords } from './healing.rules.ts';
import { type CutWithLooks, cutsSince, voidHealing } from './healing.ts';

const voidingBody = z.object({ reason: text('why it is taken back', 500) });

/** The cuts of the last months with what is known of their pieces, and taking a look back. */
export function healingPages(app: FastifyInstance, service: Service): void {
  app.get('/stock/cuts', async (request, reply) => {
    const { id, timeZone } = request.site;
    const now = service.now();
    const cuts = await cutsSince(service.pool, id, daysBefore(now, ASKED_DAYS));
    const views = cuts.map((cut) => cutView(cut, timeZone, now));
    // Those that wait for a count come first.
    const sorted = [...views.filter(({ due }) => due), ...views.filter(({ due }) => !due)];
    const { page } = pageQuery.parse(request.query);
    const shown = pageOfList(sorted, { page }, (other) => `/stock/cuts?page=${other}`);
    const data = {
      crumbs: [{ href: '/stock', text: 'Stock' }],
      days: ASKED_DAYS,
      cuts: shown.some,
      pager: shown.pager,
      due: views.filter(({ due }) => due).length,
    };
    return showPage(service, request, reply, 'stock/cuts', data, { title: 'Cuts', area: 'stock' });
  });
  app.post('/healing-looks/:id/voiding', takes(voidingBody), (request, reply) =>
    submit(request, reply, {
      schema: voidingBody,
      act: (work, { reason }) => voidHealing(work, pathId(request, 'id', 'This look'), reason),
      done: ({ code }) => ({
        to: `${lotHref(code)}/healing`,
        notice: 'The look is taken back. What it took off the count is on it again.',
      }),
      again: askWhyTakenBack(
        service,
        request,
        reply,
        'A count of pieces after a cut. What it took off the count comes back.',
      ),
    }),
  );
}

/** A cut as its pages show it. */
export function cutView(cut: CutWithLooks, timeZone: string, now: Date) {
  const stages = healingStages(cut.at, cut.looks, now);
  return {
    ...cut,
    on: dateWords(cut.at, timeZone),
    href: `${lotHref(cut.into.code)}/healing`,
    how: howWords(cut),
    stages: stages.map((stage) => stageView(stage, timeZone, cut)),
    lately: latelyOf(cut),
    due: cut.left > 0 && stages.some(({ state }) => state === 'due'),
  };
}

/** What the newest count found: "3 alive after 19 days". */
function latelyOf({ at, looks, left }: CutWithLooks): string {
  const last = looks.at(-1);
  if (last !== undefined) return `${healingWords(last)} after ${plural(dayOf(at, last.at), 'day', 'days')}`;
  return left === 0 ? 'no pieces left' : 'not counted yet';
}

/** Whole days from a cut to a look. */
const dayOf = (cutAt: Date, at: Date): number => Math.floor(daysBetween(cutAt, at));

function howWords({ method, tool, hand, minutesOut, dip }: CutWithLooks): string {
  return [
    method,
    tool,
    hand === '' ? '' : `by ${hand}`,
    minutesOut === null ? '' : `${minutesOut} min out of the water`,
    dip === '' ? '' : `dipped in ${dip}`,
  ]
    .filter((part) => part !== '')
    .join(', ');
}

function stageView({ day, dueAt, state, look }: HealingStage, timeZone: string, { at, left }: CutWithLooks) {
  const name = plural(day, 'day', 'days');
  if (look !== null) {
    const on = `${dateWords(look.at, timeZone)}, day ${dayOf(at, look.at)}`;
    return { name, words: healingWords(look), mark: '', on };
  }
  if (left === 0) return { name, words: 'No pieces left', mark: '', on: '' };
  if (state === 'due')
    return { name, words: 'Not counted yet', mark: 'today', on: `since ${dateWords(dueAt, timeZone)}` };
  return state === 'ahead'
    ? { name, words: 'To come', mark: '', on: dateWords(dueAt, timeZone) }
    : { name, words: 'Not known: nobody counted', mark: 'unknown', on: '' };
}
