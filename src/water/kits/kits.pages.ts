import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { localDay } from '../../platform/days.ts';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { pageOfList } from '../../platform/views/pager.ts';
import { isManager } from '../../platform/web/access.ts';
import { pageNumber } from '../../platform/web/fields.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { inputMoment } from '../../platform/web/moments.ts';
import { showPage } from '../../platform/web/pages.ts';
import { numberWords } from '../../platform/words/numbers.ts';
import { listQuantities, say, sayDifference, usualMiddle } from '../quantities/quantities.ts';
import { newKitSchema } from './kits.schema.ts';
import { listKits, openKit } from './kits.ts';
import { listMethods } from './methods.ts';

/** The kits of the farm and their methods: what is open, until when, and whether it reads right; opening a kit. */
export function kitPages(app: FastifyInstance, service: Service): void {
  app.get('/water/kits', (request, reply) => showKits(service, request, reply));
  app.post(
    '/water/kits',
    takes(({ timeZone, now }) => newKitSchema(timeZone, now)),
    (request, reply) => postKit(service, request, reply),
  );
}

/** Kits in use on one page (own choice: those of a few systems). */
const kitsPerPage = 50;

/** `page` of those in use, `put` of those put away. */
const kitsAsked = z.object({ page: pageNumber(), put: pageNumber() });

async function showKits(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const [kits, methods, quantities] = await Promise.all([
    listKits(service.pool),
    listMethods(service.db),
    listQuantities(service.db),
  ]);
  const now = service.now();
  const today = localDay(now, request.site.timeZone);
  const rows = kits.flatMap((kit) => {
    const quantity = quantities.find((one) => one.code === kit.quantityCode);
    if (quantity === undefined) return [];
    const middle = usualMiddle(quantity);
    const off = kit.meanError === null ? null : sayDifference(quantity, Math.abs(kit.meanError), middle);
    const checked =
      off === null ? 'not checked' : `${off} ${(kit.meanError ?? 0) < 0 ? 'low' : 'high'} on average`;
    return [
      {
        ...kit,
        name: quantity.name,
        checked,
        expired: kit.expiresOn !== null && kit.expiresOn < today,
        left: kit.uses === null ? null : Math.max(0, kit.uses - kit.used),
      },
    ];
  });
  const choices = methods
    .filter(({ retiredAt }) => retiredAt === null)
    .map((method) => ({
      value: method.id,
      text: `${method.quantity.name}: ${method.name}`,
    }));
  const form =
    refused ??
    freshForm({
      methodId: '',
      label: '',
      lotNumber: '',
      openedAt: inputMoment(now, request.site.timeZone),
      expiresOn: '',
      uses: '',
    });
  const { page, put } = kitsAsked.parse(request.query ?? {});
  const hrefOf = (of: { page: number; put: number }) => `/water/kits?page=${of.page}&put=${of.put}`;
  const inUse = pageOfList(
    rows.filter((kit) => kit.retiredAt === null),
    { page, perPage: kitsPerPage },
    (other) => hrefOf({ page: other, put }),
  );
  const retired = pageOfList(
    rows.filter((kit) => kit.retiredAt !== null),
    { page: put },
    (other) => `${hrefOf({ page, put: other })}#out-of-use`,
  );
  const data = {
    inUse: inUse.some,
    pager: inUse.pager,
    retired: retired.some,
    retiredPager: retired.pager,
    retiredCount: rows.filter((kit) => kit.retiredAt !== null).length,
    looksAtRetired: put > 1,
    choices,
    isManager: isManager(request.person.role),
    methods: methodRows(methods),
  };
  return showPage(service, request, reply, 'water/kits', data, { title: 'Test kits', area: 'water', form });
}

/** What each method can tell, in the farm's units. */
function methodRows(methods: Awaited<ReturnType<typeof listMethods>>) {
  return methods.map((method) => {
    const { id, name, note, absolute, relative, detectionLimit, isDefault, quantity } = method;
    const middle = usualMiddle(quantity);
    const parts = [
      absolute > 0 ? sayDifference(quantity, absolute, middle) : '',
      relative > 0 ? `${Math.round(relative * 1000) / 10} %` : '',
    ];
    const limit = detectionLimit === null ? 'none stated' : say(quantity, detectionLimit);
    return {
      id,
      quantity: quantity.name,
      name,
      note,
      isDefault,
      about: aboutMethod(method),
      uncertainty: parts.filter((part) => part !== '').join(' and '),
      limit,
    };
  });
}

/** "usual", "every 10 min", the laboratory: what sets a method apart. */
function aboutMethod(method: Awaited<ReturnType<typeof listMethods>>[number]): string {
  const { isDefault, everyMinutes, laboratory, sideDivisor, retiredAt } = method;
  return [
    isDefault ? 'usual' : '',
    everyMinutes === null ? '' : `a probe, every ${numberWords(everyMinutes)} min`,
    laboratory,
    sideDivisor === null ? '' : `through the side ÷ ${numberWords(sideDivisor)}`,
    retiredAt === null ? '' : 'no longer offered',
  ]
    .filter((part) => part !== '')
    .join(', ');
}

async function postKit(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: newKitSchema(request.site.timeZone, service.now()),
    act: openKit,
    done: ({ id }, { label }) => ({
      to: `/water/kits/${id}`,
      notice: `${label} is open. Check it against a standard, and test one sample with the old kit too.`,
    }),
    again: (form) => showKits(service, request, reply, form),
  });
}
