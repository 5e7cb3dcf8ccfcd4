import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { calendarDaysBetween, localDay } from '../../platform/days.ts';
import { answers } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { inputSmall, mmWords } from '../../platform/units/measures.ts';
import { scales } from '../../platform/units/scales.ts';
import { optionalOnScale } from '../../platform/web/fields/measures.ts';
import { showPage } from '../../platform/web/pages.ts';
import { plural } from '../../platform/words/numbers.ts';
import { dateWords } from '../../platform/words/times.ts';
import { daysAfter } from '../../science/numeric/time.ts';
import { survivalOf } from '../survival/compare.rules.ts';
import { followedCuts } from '../survival/survival.ts';
import { drawnWeeks, WEEKS } from './drawn-weeks.ts';
import { LEAST_LOTS, toCutNow } from './forecast.rules.ts';
import { type StockGrowth, stockGrowth } from './forecast.ts';
import { REGROWTH_DAYS } from './growth.rules.ts';

/** Which pieces reach sale size, week by week, and what to cut now for later. */
export function forecastPages(app: FastifyInstance, service: Service): void {
  app.get('/stock/forecast', (request, reply) => showForecast(service, request, reply));
  app.get('/api/stock/forecast', answers(forecastAnswer), async (request) => {
    const { growing, largeEnough, unknown } = await stockGrowth(service.pool, request.site.id, service.now());
    return { weeks: await drawnWeeks(growing), largeEnough, unknown };
  });
}

const forecastAnswer = z.object({
  weeks: z.array(z.object({ middle: z.number(), low: z.number(), high: z.number(), beyond: z.number() })),
  largeEnough: z.number(),
  unknown: z.number().describe('Pieces of whose growth too little is known.'),
});

const askedSchema = z.object({
  kind: z.string().max(100).catch(''),
  pieces: z.coerce.number().int().min(1).max(10_000).nullable().catch(null),
  by: z.iso.date().nullable().catch(null),
  size: optionalOnScale({ what: 'the size', low: 1, high: 500 }, scales.mm).catch(null),
});

async function showForecast(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const { id, timeZone } = request.site;
  const now = service.now();
  const asked = askedSchema.parse(request.query ?? {});
  const stock = await stockGrowth(service.pool, id, now);
  const weeks = await drawnWeeks(stock.growing);
  const ready = stock.kinds.filter(({ rate, saleSize }) => rate !== null && saleSize > 0);
  const data = {
    crumbs: [
      { href: '/stock', text: 'Stock' },
      { href: '/stock/cuts', text: 'Cuts' },
    ],
    asked: { ...asked, pieces: asked.pieces ?? '', by: asked.by ?? '', size: inputSmall(asked.size) },
    weeks: weeks.map(({ middle, low, high, beyond }, i) => ({
      until: dateWords(daysAfter(now, WEEKS[i] ?? 0), timeZone),
      text: beyond === stock.growing.length ? 'not known' : `about ${middle} (${low} to ${high})`,
      beyond:
        beyond === 0 ? '' : `${plural(beyond, 'lot', 'lots')} left out: not measured long enough to say`,
    })),
    growing: stock.growing.length,
    largeEnough: stock.largeEnough,
    unknown: stock.unknown,
    kinds: ready.map(({ code, name }) => ({ value: code, text: name })),
    leastLots: LEAST_LOTS,
    regrowth: REGROWTH_DAYS,
    answer: await answerOf(service, request, stock, asked),
  };
  return showPage(service, request, reply, 'stock/forecast', data, {
    title: 'Pieces to come',
    area: 'stock',
  });
}

/** What to cut now for what is wanted, in words; '' while nothing is asked. */
async function answerOf(
  service: Service,
  request: FastifyRequest,
  stock: StockGrowth,
  { kind, pieces, by, size }: z.output<typeof askedSchema>,
): Promise<string> {
  const found = stock.kinds.find(({ code }) => code === kind);
  if (found === undefined || pieces === null || by === null || size === null) return '';
  if (found.rate === null)
    return `Fewer than ${LEAST_LOTS} lots of ${found.name} were measured long enough to say.`;
  const { id, timeZone } = request.site;
  const days = calendarDaysBetween(localDay(service.now(), timeZone), by);
  if (days <= REGROWTH_DAYS) return `Too soon: a cut heals and regrows for ${REGROWTH_DAYS} days first.`;
  if (size >= found.saleSize)
    return `Pieces of ${mmWords(size)} are large enough already. Enter a smaller one.`;
  const { cuts } = await followedCuts(service.pool, id, { since: null, kindCode: kind });
  const told = survivalOf(found.name, cuts);
  const last = told.at.findLast((one) => one !== null) ?? null;
  if (told.tooFew || last === null)
    return `Too few cut pieces of ${found.name} were counted to say how many live.`;
  const alive = { share: last.survival, low: last.low ?? last.survival };
  const answer = toCutNow(
    { pieces, days, cutSize: size, saleSize: found.saleSize, rate: found.rate, alive },
    REGROWTH_DAYS,
  );
  if (!answer.told) return answer.why;
  return `Cut about ${answer.middle} pieces now, ${answer.sure} to be fairly sure: ${Math.round(answer.share * 100)} of 100 live and reach ${mmWords(found.saleSize)} by then, from ${plural(found.rate.lots, 'measured lot', 'measured lots')} and ${plural(told.followed, 'counted piece', 'counted pieces')}.`;
}
