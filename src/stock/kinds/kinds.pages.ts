import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { takes } from '../../platform/door/takes.ts';
import { seenNow } from '../../platform/seen.ts';
import type { Service } from '../../platform/service.ts';
import { chosen, text, version } from '../../platform/web/fields.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { afterStale } from '../../platform/web/stale-edit.ts';
import { growthFormWords } from '../base/face.ts';
import { kindCare } from './care.ts';
import { figureFormValues, figureView, missingFigures, requestedFigure } from './care-figure-form.ts';
import { careLines, farmUnits } from './care-figure-words.ts';
import { figureSchema } from './care-figures.schema.ts';
import { FIGURES } from './care-figures.ts';
import { dropFigure, figureStanding, setFigure } from './care-overrides.ts';
import { kindSchema } from './kinds.schema.ts';
import { addKind, countLotsOf, editKind, findKind, listGroups, listKinds } from './kinds.ts';

/** The care library of this farm: kinds, their names, their figures. */
export function kindPages(app: FastifyInstance, service: Service): void {
  app.get('/kinds', (request, reply) => showKinds(service, request, reply));
  app.get('/kinds/new', (request, reply) => showNew(service, request, reply));
  app.post('/kinds', takes(newKindSchema), (request, reply) => postKind(service, request, reply));
  app.get('/kinds/:code', (request, reply) => showKind(service, request, reply));
  app.get('/kinds/:code/details', (request, reply) => showDetails(service, request, reply));
  app.post('/kinds/:code/details', takes(kindSchema.extend({ version: version() })), (request, reply) =>
    postDetails(service, request, reply),
  );
  app.get('/kinds/:code/care/:figure', (request, reply) => showFigure(service, request, reply));
  app.post('/kinds/:code/care/:figure', (request, reply) => postFigure(service, request, reply));
  app.get('/kinds/:code/care/:figure/removal', (request, reply) => showRemoval(service, request, reply));
  app.post('/kinds/:code/care/:figure/removal', takes(removalBody), (request, reply) =>
    postRemoval(service, request, reply),
  );
}

const kindHref = (code: string) => `/kinds/${code}`;
const kindOf = (service: Service, request: FastifyRequest) =>
  findKind(service.db, (request.params as { code: string }).code);

/** The figures in the list of kinds; the kind's own page has the rest. */
const listedFigures = ['par_range', 'par_ceiling', 'flow', 'feeding_every_days', 'growth_mm_year'] as const;

async function showKinds(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const [groups, care, units] = await Promise.all([
    listKinds(service.db),
    kindCare(service.pool),
    farmUnits(service.pool),
  ]);
  const row = (kind: { id: string; code: string; name: string; alsoCalled: string[] }) => {
    const lines = careLines(care.get(kind.id) ?? {}, units);
    return {
      name: kind.name,
      href: kindHref(kind.code),
      also: kind.alsoCalled.join(', '),
      cells: listedFigures.map((figure) => ({
        label: FIGURES[figure].label,
        text: lines.find((line) => line.figure === figure)?.text ?? '',
      })),
      lines,
    };
  };
  const data = {
    groups: groups.map(({ group, taxa }) => {
      const first = row(group);
      return {
        name: group.name,
        id: group.code,
        first,
        rows: [{ ...first, name: 'The group' }, ...taxa.map(row)],
      };
    }),
    heads: listedFigures.map((figure) => FIGURES[figure].label),
  };
  return showPage(service, request, reply, 'stock/kinds', data, { title: 'Kinds', area: 'stock' });
}

async function showKind(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const kind = await kindOf(service, request);
  const [all, units, lots] = await Promise.all([
    kindCare(service.pool),
    farmUnits(service.pool),
    countLotsOf(service.db, kind.id),
  ]);
  const care = all.get(kind.id) ?? {};
  const lotsHref =
    kind.rank === 'group' ? `/stock?group=${kind.id}` : `/stock?q=${encodeURIComponent(kind.name)}`;
  const data = { kind, lots, lotsHref, lines: careLines(care, units), missing: missingFigures(care) };
  return showPage(service, request, reply, 'stock/kind', data, { title: kind.name, area: 'stock' });
}

const growthForms = Object.entries(growthFormWords).map(([value, text]) => ({ value, text }));

const newKindSchema = kindSchema.extend({ groupId: chosen('Choose the group whose care it has.') });

async function showNew(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  form: FormState = freshForm({ name: '', alsoCalled: '', growthForm: '', note: '', groupId: '' }),
) {
  const groups = (await listGroups(service.db)).map(({ id, name }) => ({ value: id, text: name }));
  return showPage(
    service,
    request,
    reply,
    'stock/new-kind',
    { groups, growthForms },
    {
      title: 'Add a kind',
      area: 'stock',
      form,
    },
  );
}

async function postKind(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: newKindSchema,
    act: addKind,
    done: ({ code }, { name }) => ({
      to: kindHref(code),
      notice: `${name} is added with its group’s care. Change what differs.`,
    }),
    again: (form) => showNew(service, request, reply, form),
  });
}

async function showDetails(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const kind = await kindOf(service, request);
  const { name, note, version: current, alsoCalled, growthForm } = kind;
  const names = [name, ...alsoCalled].join(', ');
  const now = {
    name,
    note,
    version: current,
    alsoCalled: alsoCalled.join(', '),
    growthForm: growthForm ?? '',
  };
  const typed = refused ?? freshForm(now);
  const { form, theirs } = afterStale(typed, reply, { version: current }, `${names}${note && `, ${note}`}`);
  return showPage(
    service,
    request,
    reply,
    'stock/kind-details',
    { kind, growthForms, theirs },
    {
      title: `Change ${kind.name}`,
      area: 'stock',
      form,
    },
  );
}

async function postDetails(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const kind = await kindOf(service, request);
  return submit(request, reply, {
    schema: kindSchema.extend({ version: version() }),
    act: (work, value) => editKind(work, kind.id, value),
    done: (_, { name }) => ({ to: kindHref(kind.code), notice: `${name} is changed.` }),
    again: (form) => showDetails(service, request, reply, form),
  });
}

async function showFigure(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const [kind, figure] = [await kindOf(service, request), requestedFigure(request)];
  const [all, units] = await Promise.all([kindCare(service.pool), farmUnits(service.pool)]);
  const value = all.get(kind.id)?.[figure];
  const form = refused ?? freshForm(figureFormValues(figure, value, units));
  const own = value?.from === kind.rank && value.basis === 'own_choice' && kind.rank === 'taxon';
  const action = `${kindHref(kind.code)}/care/${figure}`;
  const heading = FIGURES[figure].label;
  const data = {
    ...figureView(figure, value, units),
    ...{
      heading,
      action,
      removal: own ? `${action}/removal` : '',
      back: kindHref(kind.code),
      for: kind.name,
      seen: await seenNow(service.db, figureStanding({ kindId: kind.id }, figure)),
    },
  };
  return showPage(service, request, reply, 'stock/figure', data, {
    title: `${heading}: ${kind.name}`,
    area: 'stock',
    form,
  });
}

async function postFigure(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const [kind, figure] = [await kindOf(service, request), requestedFigure(request)];
  return submit(request, reply, {
    schema: figureSchema(figure, await farmUnits(service.pool)),
    over: figureStanding({ kindId: kind.id }, figure),
    act: (work, value) => setFigure(work, { kindId: kind.id }, { figure, ...value }),
    done: () => ({
      to: kindHref(kind.code),
      notice: `${FIGURES[figure].label} is changed for ${kind.name}.`,
    }),
    again: (form) => showFigure(service, request, reply, form),
  });
}

async function showRemoval(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  form: FormState = freshForm({ reason: '' }),
) {
  const [kind, figure] = [await kindOf(service, request), requestedFigure(request)];
  const heading = `Drop ${FIGURES[figure].label.toLowerCase()}`;
  const action = `${kindHref(kind.code)}/care/${figure}/removal`;
  const seen = await seenNow(service.db, figureStanding({ kindId: kind.id }, figure));
  const data = { heading, action, back: kindHref(kind.code), for: kind.name, seen };
  return showPage(service, request, reply, 'stock/removal', data, { title: heading, area: 'stock', form });
}

const removalBody = z.object({ reason: text('why the group’s figure holds again', 500) });

async function postRemoval(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const [kind, figure] = [await kindOf(service, request), requestedFigure(request)];
  return submit(request, reply, {
    schema: removalBody,
    over: figureStanding({ kindId: kind.id }, figure),
    act: (work, { reason }) => dropFigure(work, { kindId: kind.id }, figure, reason),
    done: () => ({ to: kindHref(kind.code), notice: 'The group’s figure holds again.' }),
    again: (form) => showRemoval(service, request, reply, form),
  });
}
