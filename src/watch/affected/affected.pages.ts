import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import type { Service } from '../../platform/service.ts';
import { showPage } from '../../platform/web/pages.ts';
import { lotHref } from '../../stock/base/lot-href.ts';
import { racksOfLots } from '../pictures/racks.ts';
import { compareAffected } from './affected.ts';
import { affectedWords, clusterRows, signWords } from './affected.words.ts';
import { SIGNS } from './members.rules.ts';

/** What affected lots have in common: the comparison with all others, for a sign and a time that can be chosen. */
export function affectedPages(app: FastifyInstance, service: Service): void {
  app.get('/affected', (request, reply) => show(service, request, reply));
}

/** Days that can be compared (own choice). */
const periods = [7, 14, 30];
const asked = z.object({ days: z.coerce.number().int().catch(14), sign: z.enum(SIGNS).catch('any') });

/** Whether an affected lot is in the grouping that stands out, or elsewhere. */
const severityOf = (inside: boolean) => (inside ? ('today' as const) : ('watch' as const));

async function show(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const { sign, ...of } = asked.parse(request.query ?? {});
  const days = periods.includes(of.days) ? of.days : 14;
  const now = service.now();
  const { scan, members } = await compareAffected(service.pool, request.site.id, { sign, days, now });
  const { best } = scan;
  const affected = members
    .filter((one) => one.affected)
    .map((one) => ({ ...one, inside: best !== null && one.groups[best.by] === best.name }));
  const clock = { timeZone: request.site.timeZone, now };
  const meant = new Map(affected.map(({ lotId, inside }) => [lotId, severityOf(inside)]));
  const picture = meant.size === 0 ? null : await racksOfLots(service.pool, meant, clock);
  const data = {
    ...{ days, sign },
    signs: SIGNS.map((value) => ({ value, text: signWords[value] })),
    periods: periods.map((value) => ({ value: String(value), text: `${value} days` })),
    chosenDays: String(days),
    verdict: affectedWords(scan, days),
    rows: clusterRows(scan),
    picture,
    lots: affected
      .toSorted((a, b) => (a.firstSeen?.getTime() ?? 0) - (b.firstSeen?.getTime() ?? 0))
      .map(({ code, firstSeen, inside, groups }) => ({
        ...{ code, href: lotHref(code), firstSeen, inside, rack: groups.rack ?? '', kind: groups.kind ?? '' },
      })),
  };
  return showPage(service, request, reply, 'watch/affected', data, {
    title: 'What affected lots share',
    area: 'watch',
  });
}
