import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import type { Work } from '../../platform/change.ts';
import { takes } from '../../platform/door/takes.ts';
import { type Standing, seenNow } from '../../platform/seen.ts';
import type { Service } from '../../platform/service.ts';
import type { Area } from '../../platform/views/page.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { type CopiedTo, copiedWords, type ToSystems, toSystemsSchema } from './copies.schema.ts';
import { listOpenSystems } from './systems.ts';

/** What is copied from one place to ticked systems. */
interface Copied {
  heading: string;
  /** What comes along, and what does not. */
  what: string;
  crumbs: { href: string; text: string }[];
  /** The system it comes from, which is not offered; null where it is of none. */
  fromId: string | null;
  /** What each system has of it already. */
  has: ReadonlyMap<string, readonly string[]>;
  /** Where to go afterwards. */
  back: string;
}

interface CopyRoute {
  /** With ":id"; both its form and where that is sent. */
  path: string;
  area: Area;
  /** "targets". */
  noun: string;
  load(request: FastifyRequest): Promise<Copied>;
  /** What a copy may replace; left out where it only adds. */
  over?(request: FastifyRequest): Standing;
  copy(work: Work, request: FastifyRequest, input: ToSystems): Promise<CopiedTo[]>;
}

/** A page that copies something to ticked systems: what is there already is named, and left alone or replaced as chosen. */
export function copyToSystemsPage(app: FastifyInstance, service: Service, route: CopyRoute): void {
  const show = async (request: FastifyRequest, reply: FastifyReply, refused?: FormState) => {
    const { has, fromId, ...words } = await route.load(request);
    const open = await listOpenSystems(service.db, request.site.id);
    const form = refused ?? freshForm({ there: 'leave' });
    const ticked = new Set([form.typed.systems ?? []].flat());
    const systems = open
      .filter(({ id }) => id !== fromId)
      .map(({ id, name }) => ({ id, name, ticked: ticked.has(id), has: (has.get(id) ?? []).join(', ') }));
    const over = route.over?.(request);
    const data = {
      ...words,
      seen: over === undefined ? '' : await seenNow(service.db, over),
      systems,
      action: request.url.split('?')[0],
      noun: route.noun,
      there: thereOptions,
    };
    return showPage(service, request, reply, 'farm/copy-to-systems', data, {
      title: words.heading,
      area: route.area,
      form,
    });
  };
  app.get(route.path, (request, reply) => show(request, reply));
  app.post(route.path, takes(toSystemsSchema), async (request, reply) => {
    const { back } = await route.load(request);
    return submit(request, reply, {
      schema: toSystemsSchema,
      ...(route.over === undefined ? {} : { over: route.over(request) }),
      act: (work, input) => route.copy(work, request, input),
      done: (done) => ({ to: back, notice: copiedWords(done, route.noun) }),
      again: (form) => show(request, reply, form),
    });
  });
}

const thereOptions = [
  { value: 'leave', text: 'Leave it alone' },
  { value: 'replace', text: 'Replace it by the copy' },
];
