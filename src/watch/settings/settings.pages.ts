import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { takes } from '../../platform/door/takes.ts';
import { notFound } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { sentence } from '../alerts/alerts.words.ts';
import type { Parameter } from '../rule-definition/parameters.ts';
import type { Rule } from '../rule-definition/rule.ts';
import { ruleNamed, rules } from '../rules/registry.ts';
import { unknownsOf } from '../unknowns/unknowns.ts';
import { scopeChoices } from './scopes.ts';
import { anyNumber, limitSchema, trialDays } from './settings.schema.ts';
import { limitStanding, loadSettings, setLimit } from './settings.ts';
import { limitUnit, originWords, rangeWords, setWords, valueWords } from './settings.words.ts';

/** What each rule watches, its limits and where each comes from. */
export function limitPages(app: FastifyInstance, service: Service): void {
  app.get('/watch/limits', (request, reply) => showLimits(service, request, reply));
  app.get('/watch/limits/:rule/:name', (request, reply) => showLimit(service, request, reply));
  app.post(
    '/watch/limits/:rule/:name',
    takes(() => limitSchema(anyNumber)),
    (request, reply) => postLimit(service, request, reply),
  );
}

async function showLimits(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const places = await scopeChoices(service.db, request.site.id);
  const { where = 'farm', open = '' } = request.query as { where?: string; open?: string };
  const place = places.find(({ value }) => value === where) ?? places[0];
  const book = await loadSettings(service.pool, request.site.id);
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
      limits: Object.entries(rule.parameters).map(([name, parameter]) => ({
        label: parameter.label,
        value: valueWords(origins[name]?.value ?? parameter.default, parameter),
        from: originWords(parameter, origins[name], timeZone),
        href: `/watch/limits/${rule.name}/${name}${where === 'farm' ? '' : `?where=${where}`}`,
        exceptions: exceptions
          .filter(({ values }) => name in values)
          .map(({ row, values }) => `${row.scopeName ?? ''}: ${valueWords(values[name] ?? 0, parameter)}`),
      })),
    };
  });
  const unknowns = await unknownsOf(service.pool, request.site.id);
  const systems = places.flatMap(({ systemId, text }) =>
    systemId === undefined ? [] : [{ name: text, href: `/water/systems/${systemId}/targets` }],
  );
  const data = {
    rules: listed,
    places,
    where: place?.value ?? 'farm',
    systems,
    unseen: [...unknowns.setUp, ...unknowns.unseen],
  };
  return showPage(service, request, reply, 'watch/limits', data, { title: 'Limits', area: 'watch' });
}

/** The parameter that an address names. @throws Refusal 404 */
export function parameterAt(request: FastifyRequest): { rule: Rule; name: string; parameter: Parameter } {
  const { rule: ruleName = '', name = '' } = request.params as Record<string, string>;
  const rule = ruleNamed(ruleName);
  const parameter =
    rule !== undefined && Object.hasOwn(rule.parameters, name) ? rule.parameters[name] : undefined;
  if (rule === undefined || parameter === undefined) throw notFound('This limit');
  return { rule, name, parameter };
}

/** The page of one limit, with its form as it was filled in where that was refused. */
export async function showLimit(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const { rule, name, parameter } = parameterAt(request);
  const { timeZone } = request.site;
  const book = await loadSettings(service.pool, request.site.id);
  const origin = book.origins(rule)[name];
  const exceptions = book.exceptions(rule).filter(({ values }) => name in values);
  const { where = 'farm' } = request.query as { where?: string };
  const form = refused ?? freshForm({ value: '', where, reason: '', days: '90' });
  const isSet = origin?.from != null;
  const rows = [
    {
      label: 'For the farm',
      text: valueWords(origin?.value ?? parameter.default, parameter),
      small: originWords(parameter, origin, timeZone),
      isSource: true,
    },
    ...exceptions.map(({ row, values }) => ({
      label: row.scopeName ?? '',
      text: valueWords(values[name] ?? 0, parameter),
      small: setWords(row, timeZone),
    })),
    ...(isSet
      ? [
          {
            label: 'Default',
            text: valueWords(parameter.default, parameter),
            small: sentence(parameter.source),
            isSource: true,
          },
        ]
      : []),
  ];
  const data = {
    heading: rule.heading,
    watches: rule.watches,
    action: `/watch/limits/${rule.name}/${name}/trials`,
    untried: rule.untried ?? '',
    parameter: {
      ...parameter,
      unit: limitUnit(parameter),
      range: rangeWords(parameter),
    },
    rows,
    takesBack: isSet || exceptions.length > 0,
    places: await scopeChoices(service.db, request.site.id, rule.byKind),
    periods: trialDays.map((days) => ({ value: days, text: `${days} days` })),
  };
  return showPage(service, request, reply, 'watch/limit', data, {
    title: parameter.label,
    area: 'watch',
    form,
  });
}

async function postLimit(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const { rule, name, parameter } = parameterAt(request);
  return submit(request, reply, {
    schema: limitSchema(parameter),
    over: limitStanding(rule, name),
    act: (work, { value, where, reason }) => setLimit(work, { rule, name, value, ...where, reason }),
    done: (_, { value }) => ({
      to: `/watch/limits?open=${rule.name}#${rule.name}`,
      notice:
        value === null
          ? `Taken back: ${parameter.label}.`
          : `Set: ${parameter.label}, ${valueWords(value, parameter)}.`,
    }),
    again: (form) => showLimit(service, request, reply, form),
  });
}
