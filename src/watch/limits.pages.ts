import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { notFound } from '../platform/refusal.ts';
import type { Service } from '../platform/service.ts';
import { type FormState, freshForm, submit } from '../platform/web/forms.ts';
import { showPage } from '../platform/web/pages.ts';
import { dateWords, numberWords } from '../platform/words.ts';
import { sentence } from './alert-words.ts';
import type { Knob } from './knobs.ts';
import { ruleNamed, rules } from './rules/registry.ts';
import type { Rule } from './rules/rule.ts';
import type { Origin, SettingRow } from './settings.rules.ts';
import { limitSchema } from './settings.schema.ts';
import { loadSettings, setLimit } from './settings.ts';

const manager = { config: { access: 'manager' as const } };

/** What each rule watches, its limits and where each comes from. */
export function limitPages(app: FastifyInstance, service: Service): void {
  app.get('/watch/limits', manager, (request, reply) => showLimits(service, request, reply));
  app.get('/watch/limits/:rule/:name', manager, (request, reply) => showLimit(service, request, reply));
  app.post('/watch/limits/:rule/:name', manager, (request, reply) => postLimit(service, request, reply));
}

const valueWords = (value: number, { unit }: Knob) => `${numberWords(value)} ${unit}`.trim();

async function showLimits(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const book = await loadSettings(service.pool);
  const { timeZone } = request.site;
  const listed = rules.map((rule) => {
    const origins = book.origins(rule);
    return {
      heading: rule.heading,
      watches: rule.watches,
      limits: Object.entries(rule.knobs).map(([name, knob]) => ({
        label: knob.label,
        value: valueWords(origins[name]?.value ?? knob.default, knob),
        from: originWords(knob, origins[name], timeZone),
        href: `/watch/limits/${rule.name}/${name}`,
        exceptions: book
          .exceptions(rule)
          .filter(({ values }) => name in values)
          .map(({ row, values }) => `${row.scopeName ?? ''}: ${valueWords(values[name] ?? 0, knob)}`),
      })),
    };
  });
  const data = { rules: listed };
  return showPage(service, request, reply, 'watch/limits', data, { title: 'Limits', area: 'watch' });
}

function originWords(knob: Knob, origin: Origin | undefined, timeZone: string): string {
  if (origin?.from == null) return `Default. ${sentence(knob.source)}`;
  return setWords(origin.from, timeZone);
}

function setWords({ reason, at, who }: SettingRow, timeZone: string): string {
  return `Set${who === null ? '' : ` by ${who}`} on ${dateWords(at, timeZone)}: ${reason}`;
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
  const form = refused ?? freshForm({ value: '', where: 'farm', reason: '' });
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
    { label: 'Default', text: valueWords(knob.default, knob), small: sentence(knob.source) },
  ];
  const data = {
    heading: rule.heading,
    watches: rule.watches,
    action: `/watch/limits/${rule.name}/${name}`,
    knob: { ...knob, range: `${numberWords(knob.low)} to ${valueWords(knob.high, knob)}` },
    rows,
    places: await placesOf(service, rule),
  };
  return showPage(service, request, reply, 'watch/limit', data, { title: knob.label, area: 'watch', form });
}

async function placesOf(service: Service, rule: Rule) {
  const [systems, kinds] = await Promise.all([
    service.db.system.findMany({
      where: { retiredAt: null },
      orderBy: [{ position: 'asc' }, { name: 'asc' }],
    }),
    rule.byKind ? service.db.kind.findMany({ orderBy: [{ rank: 'asc' }, { name: 'asc' }] }) : [],
  ]);
  return [
    { value: 'farm', text: 'The whole farm' },
    ...systems.map(({ id, name }) => ({ value: `system:${id}`, text: `Only ${name}` })),
    ...kinds.map(({ id, name }) => ({ value: `kind:${id}`, text: `Only ${name}` })),
  ];
}

async function postLimit(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const { rule, name, knob } = asked(request);
  return submit(request, reply, {
    schema: limitSchema(knob),
    act: (work, { value, where, reason }) => setLimit(work, { rule, name, value, ...where, reason }),
    done: (_, { value }) => ({
      to: '/watch/limits',
      notice:
        value === null ? `Taken back: ${knob.label}.` : `Set: ${knob.label}, ${valueWords(value, knob)}.`,
    }),
    again: (form) => showLimit(service, request, reply, form),
  });
}
