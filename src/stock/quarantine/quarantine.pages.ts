import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { findTank } from '../../farm/tanks/tanks.ts';
import { takes } from '../../platform/door/takes.ts';
import { seenNow } from '../../platform/seen.ts';
import type { Service } from '../../platform/service.ts';
import { choice, optionalText, tick, whole } from '../../platform/web/fields.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { daysAfter } from '../../science/numeric/time.ts';
import { lotHref } from '../base/lot-href.ts';
import { PURPOSE_WORDS, PURPOSES } from './purposes.rules.ts';
import {
  daysLeft,
  endQuarantine,
  lotsInTank,
  openQuarantine,
  quarantineStanding,
  reasonsToLeave,
  setQuarantine,
  usualDays,
} from './quarantines.ts';

/** The quarantine of a tank: what it is for, how long it lasts, and its end. */
export function quarantinePages(app: FastifyInstance, service: Service): void {
  app.get('/tanks/:id/quarantine', (request, reply) => show(service, request, reply));
  app.post('/tanks/:id/quarantine', takes(setSchema), (request, reply) => postSet(service, request, reply));
  app.post('/tanks/:id/quarantine/end', takes(endSchema), (request, reply) =>
    postEnd(service, request, reply),
  );
}

const idOf = (request: FastifyRequest) => pathId(request, 'id', 'This tank');
const pageOf = (id: string) => `/tanks/${id}/quarantine`;

const setSchema = z.object({
  purpose: choice(
    PURPOSES.map(({ value }) => value) as ['observe', ...string[]],
    'Choose what the quarantine is for.',
  ),
  until: optionalText(300),
  days: whole({ what: 'how many days', low: 0, high: 365 }),
});

const endSchema = z.object({ met: tick(), reason: optionalText(500) });

async function show(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const tank = await findTank(service.db, idOf(request));
  const open = await openQuarantine(service.db, tank.id);
  const [lots, reasons] = await Promise.all([
    lotsInTank(service.pool, tank.id),
    open === null ? [] : reasonsToLeave(service.pool, open.id),
  ]);
  const { purpose = 'observe', until = '', days = usualDays } = open ?? {};
  const data = {
    seen: await seenNow(service.db, quarantineStanding(tank.id)),
    tank: { id: tank.id, name: tank.name, quarantine: tank.quarantine, ownWater: tank.ownWater },
    system: tank.system,
    purposes: PURPOSES,
    running:
      open === null
        ? null
        : {
            words: PURPOSE_WORDS[open.purpose],
            until: open.until,
            days: open.days,
            startedAt: open.startedAt,
            countsFrom: open.countsFrom,
            restartedBy: open.restartedBy,
            left: daysLeft(open, service.now()),
            endsAt: daysAfter(open.countsFrom, open.days),
          },
    lots: lots.map((lot) => ({ ...lot, href: lotHref(lot.code) })),
    reasons: reasons.map((one) => ({ ...one, href: lotHref(one.code) })),
  };
  const form = refused ?? freshForm({ purpose, until, days, met: '', reason: '' });
  const title = `Quarantine: ${tank.name}`;
  return showPage(service, request, reply, 'stock/quarantine', data, { title, area: 'stock', form });
}

async function postSet(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const tankId = idOf(request);
  return submit(request, reply, {
    schema: setSchema,
    over: quarantineStanding(tankId),
    act: (work, value) => setQuarantine(work, { tankId, pest: '', ...value }),
    done: () => ({ to: pageOf(tankId), notice: 'The quarantine is kept.' }),
    again: (form) => show(service, request, reply, form),
  });
}

async function postEnd(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const tankId = idOf(request);
  return submit(request, reply, {
    schema: endSchema,
    over: quarantineStanding(tankId),
    act: (work, value) => endQuarantine(work, tankId, value),
    done: ({ name }) => ({ to: pageOf(tankId), notice: `The quarantine in ${name} has ended.` }),
    again: (form) => show(service, request, reply, form),
  });
}
