import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { systemsInService } from '../farm/systems/systems.ts';
import { notFound } from '../platform/refusal.ts';
import type { Service } from '../platform/service.ts';
import { type FormState, freshForm, submit } from '../platform/web/forms.ts';
import { showPage } from '../platform/web/pages.ts';
import { numberWords } from '../platform/words/numbers.ts';
import { kindsByRank } from '../stock/kinds/kinds.ts';
import { sentence } from './alert-words.ts';
import type { Knob } from './finding/parameters.ts';
import type { Rule } from './finding/rule.ts';
import { originWords, setWords, valueWords } from './limits.words.ts';
import { ruleNamed, rules } from './rules/registry.ts';
import { limitSchema, trialDays, trialSchema } from './settings.schema.ts';
import { loadSettings, setLimit } from './settings.ts';
import { askTrial, trialQueue } from './trials.ts';

const manager = { config: { access: 'manager' as const } };

/** What each rule watches, its limits and where each comes from. */
export function limitPages(app: FastifyInstance, service: Service): void {
  app.get('/watch/limits', manager, (request, reply) => showLimits(service, request, reply));
  app.get('/watch/limits/:rule/:name', manager, (request, reply) => showLimit(service, request, reply));
  app.post('/watch/limits/:rule/:name', manager, (request, reply) => postLimit(service, request, reply));
  app.post('/watch/limits/:rule/:name/trials', manager, (request, reply) =>
    postTrial(service, request, reply),
  );
}

async function showLimits(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const places = await placesOf(service);
  const { where = 'farm', open = '' } = request.query as { where?: string; open?: string };
  const place = places.find(({ value }) => value === where) ?? places[0];
  const book = await loadSettings(service.pool);
  const { timeZone } = request.site;
  const watched = place?.kindIds === undefined ? rules : rules.filter(({ byKind }) => byKind);
  const listed = watched.map((rule) => {
    const origins = book.origins(rule, place?.systemId ?? null, place?.kindIds ?? []);
    const exceptions = where === 'farm' ? book.exceptions(rule) : [];
    return {
      name: rule.name,
      heading: rule.heading,
      watches: rule.watches,
      open: rule.name === open,
      changed: Object.entries(origins).filter(
        ([name, { from }]) => from !== null || exceptions.some(({ values }) => name in values),
      ).length,
      limits: Object.entries(rule.knobs).map(([name, knob]) => ({
        label: knob.label,
        value: valueWords(origins[name]?.value ?? knob.default, knob),
        from: originWords(knob, origins[name], timeZone),
        href: `/watch/limits/${rule.name}/${name}${where === 'farm' ? '' : `?where=${where}`}`,
        exceptions: exceptions
          .filter(({ values }) => name in values)
          .map(({ row, values }) => `${row.scopeName ?? ''}: ${valueWords(values[name] ?? 0, knob)}`),
      })),
    };
  });
  const systems = places.flatMap(({ systemId, text }) =>
    systemId === undefined ? [] : [{ name: text, href: `/water/systems/${systemId}/targets` }],
  );
  const data = { rules: listed, places, where: place?.value ?? 'farm', systems };
  return showPage(service, request, reply, 'watch/limits', data, { title: 'Limits', area: 'watch' });
}

function asked(request: FastifyRequest): { rule: Rule; name: string; knob: Knob } {
  const { rule: ruleName = '', name = '' } = request.params as Record<string, string>;
  const rule = ruleNamed(ruleName);
  const knob = rule !== undefined && Object.hasOwn(rule.knobs, name) ? rule.knobs[name] : undefined;
  if (rule === undefined || knob === undefined) throw notFound('This limit');
  return { rule, name, knob };
}

async function showLimit(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const { rule, name, knob } = asked(request);
  const { timeZone } = request.site;
  const book = await loadSettings(service.pool);
  const origin = book.origins(rule)[name];
  const exceptions = book.exceptions(rule).filter(({ values }) => name in values);
  const { where = 'farm' } = request.query as { where?: string };
  const form = refused ?? freshForm({ value: '', where, reason: '', days: '90' });
  const isSet = origin?.from != null;
  const rows = [
    {
      label: 'For the farm',
      text: valueWords(origin?.value ?? knob.default, knob),
      small: originWords(knob, origin, timeZone),
    },
    ...exceptions.map(({ row, values }) => ({
      label: row.scopeName ?? '',
      text: valueWords(values[name] ?? 0, knob),
      small: setWords(row, timeZone),
    })),
    ...(isSet
      ? [{ label: 'Default', text: valueWords(knob.default, knob), small: sentence(knob.source) }]
      : []),
  ];
  const data = {
    heading: rule.heading,
    watches: rule.watches,
    action: `/watch/limits/${rule.name}/${name}/trials`,
    untried: rule.untried ?? '',
    knob: { ...knob, range: `${numberWords(knob.low)} to ${valueWords(knob.high, knob)}` },
    rows,
    takesBack: isSet || exceptions.length > 0,
    places: await placesOf(service, rule.byKind),
    periods: trialDays.map((days) => ({ value: days, text: `${days} days` })),
  };
  return showPage(service, request, reply, 'watch/limit', data, { title: knob.label, area: 'watch', form });
}

interface PlaceChoice {
  value: string;
  text: string;
  systemId?: string;
  /** The kind and what it stands under. */
  kindIds?: string[];
}

/** The farm, its systems and (for rules set by kind) the kinds, groups first. */
async function placesOf(service: Service, byKind = true): Promise<PlaceChoice[]> {
  const [systems, kinds] = await Promise.all([
    systemsInService(service.db),
    byKind ? kindsByRank(service.db) : [],
  ]);
  return [
    { value: 'farm', text: 'The whole farm' },
    ...systems.map(({ id, name }) => ({ value: `system:${id}`, text: name, systemId: id })),
    ...kinds.map(({ id, name, parentId }) => ({
      value: `kind:${id}`,
      text: name,
      kindIds: [id, ...(parentId === null ? [] : [parentId])],
    })),
  ];
}

async function postTrial(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const { rule, name, knob } = asked(request);
  return submit(request, reply, {
    schema: trialSchema(knob),
    act: async (work, { value, where, reason, days }) => {
      const id = await askTrial(work, { rule, name, value, ...where, reason, days });
      await service.jobs.send(work.tx, trialQueue, { id });
      return { id };
    },
    done: ({ id }) => ({ to: `/watch/trials/${id}` }),
    again: (form) => showLimit(service, request, reply, form),
  });
}

async function postLimit(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const { rule, name, knob } = asked(request);
  return submit(request, reply, {
    schema: limitSchema(knob),
    act: (work, { value, where, reason }) => setLimit(work, { rule, name, value, ...where, reason }),
    done: (_, { value }) => ({
      to: `/watch/limits?open=${rule.name}#${rule.name}`,
      notice:
        value === null ? `Taken back: ${knob.label}.` : `Set: ${knob.label}, ${valueWords(value, knob)}.`,
    }),
    again: (form) => showLimit(service, request, reply, form),
  });
}
