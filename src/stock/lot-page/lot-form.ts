import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import type { z } from 'zod';
import type { Work } from '../../platform/change.ts';
import { type Sample, takes } from '../../platform/door/takes.ts';
import { holdToStanding, type Standing, seenNow } from '../../platform/seen.ts';
import type { Service } from '../../platform/service.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { checked, requiredSeen } from '../../platform/web/json.ts';
import { showPage } from '../../platform/web/pages.ts';
import { afterStale } from '../../platform/web/stale-edit.ts';
import { lotHref } from '../base/lot-href.ts';
import { type FoundLot, findLot } from '../lots/lots.ts';
import { gateNotice } from '../pests/gate.ts';
import type { Act } from '../pests/pests.rules.ts';

/** What the schema of a form depends on. */
type SchemaContext = Pick<Sample, 'timeZone' | 'now' | 'site'>;

/** The lot of a form, with the request it came in. */
export interface LotFormContext extends SchemaContext {
  service: Service;
  request: FastifyRequest;
  lot: FoundLot;
}

/**
 * An operation on a lot with its form: the page, and the routes that do it as a form post and as JSON. Both use one schema
 * and one operation.
 */
export interface LotForm<S extends z.ZodType, R> {
  /** The form is at /stock/CODE/<page>. */
  page: string;
  /** Its routes are POST /lots/ID/<resource> and POST /api/lots/ID/<resource>. */
  resource: string;
  view: string;
  /** What its lot's water and quarantine are asked about, with the field "despite" for a reason. */
  gate?: Act;
  title(context: LotFormContext): string;
  schema(context: SchemaContext): S;
  /** The same where it depends on more than the site and the time. */
  schemaHere?(context: LotFormContext): Promise<S>;
  /** The values of the form when it opens. */
  fresh(context: LotFormContext): Record<string, unknown> | Promise<Record<string, unknown>>;
  /** What stands there now, in words, for whoever changes it and was not the first. */
  there?(context: LotFormContext): Promise<string> | string;
  /** What the form writes over, where that is not the lot itself. */
  over?(context: LotFormContext): Standing;
  /** What the page shows besides the lot and the form. */
  data?(context: LotFormContext, form: FormState): object | Promise<object>;
  act(work: Work, context: LotFormContext, value: z.output<S>): Promise<R>;
  done(result: R, context: LotFormContext, value: z.output<S>): { to: string; notice?: string };
}

const summaryOf = ({ id, code, ownCode, kind, pieces, version, isMother }: FoundLot) => ({
  id,
  code,
  ownCode,
  kind: kind.name,
  pieces,
  version,
  isMother,
});

async function contextOf(service: Service, request: FastifyRequest): Promise<LotFormContext> {
  const params = request.params as { id?: string; code?: string };
  const lot = await findLot(service.db, params.id ?? params.code ?? '', request.site.id);
  const { site } = request;
  return { service, request, lot, site, now: service.now(), timeZone: site.timeZone };
}

/** Registers the three routes of a form: the page, the form post, the JSON post. */
export function lotForm<S extends z.ZodType, R>(
  app: FastifyInstance,
  service: Service,
  form: LotForm<S, R>,
): void {
  const draw = async (context: LotFormContext, reply: FastifyReply, drawn: FormState) => {
    const { lot, request } = context;
    const there = (await form.there?.(context)) ?? '';
    const { form: state, theirs } = afterStale(drawn, reply, { version: lot.version }, there);
    const heading = form.title(context);
    const gate = form.gate === undefined ? null : await gateNotice(service.pool, lot.id, form.gate);
    const extra = (await form.data?.(context, state)) ?? {};
    const over = form.over?.(context);
    const seen = over === undefined ? '' : await seenNow(service.db, over);
    const data = { lot: summaryOf(lot), back: lotHref(lot.code), theirs, seen, gate, ...extra };
    const options = { title: `${heading}: ${lot.code}`, area: 'stock', form: state } as const;
    return showPage(service, request, reply, form.view, { heading, ...data }, options);
  };
  const body = takes((sample) => form.schema(sample));
  const schemaOf = (context: LotFormContext) => form.schemaHere?.(context) ?? form.schema(context);
  app.get(`/stock/:code/${form.page}`, async (request, reply) => {
    const context = await contextOf(service, request);
    return draw(context, reply, freshForm(await form.fresh(context)));
  });
  app.post(`/lots/:id/${form.resource}`, body, async (request, reply) => {
    const context = await contextOf(service, request);
    return submit(request, reply, {
      schema: await schemaOf(context),
      ...(form.over === undefined ? {} : { over: form.over(context) }),
      act: (work, value) => form.act(work, context, value),
      done: (result, value) => form.done(result, context, value),
      again: (state) => draw(context, reply, state),
    });
  });
  app.post(`/api/lots/:id/${form.resource}`, body, async (request, reply) => {
    const context = await contextOf(service, request);
    const value = checked(await schemaOf(context), request.body);
    const over = form.over?.(context);
    const seen = over === undefined ? '' : requiredSeen(request.body);
    const result = await request.change(async (work) => {
      if (over !== undefined) await holdToStanding(work, seen, over);
      return form.act(work, context, value);
    });
    return reply.status(201).send(result ?? {});
  });
}
