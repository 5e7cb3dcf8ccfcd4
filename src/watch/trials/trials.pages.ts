import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { takes } from '../../platform/door/takes.ts';
import { notFound } from '../../platform/refusal.ts';
import { seenNow } from '../../platform/seen.ts';
import type { Service } from '../../platform/service.ts';
import { freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { plural } from '../../platform/words/numbers.ts';
import { dateWords } from '../../platform/words/times.ts';
import { daysBefore } from '../../science/numeric/time.ts';
import type { Parameter } from '../rule-definition/parameters.ts';
import { ruleNamed } from '../rules/registry.ts';
import { kindsOfScope, scopeName } from '../settings/scopes.ts';
import { parameterAt, showLimit } from '../settings/settings.pages.ts';
import { anyNumber, trialDays, trialSchema } from '../settings/settings.schema.ts';
import { limitStanding, loadSettings } from '../settings/settings.ts';
import { valueWords } from '../settings/settings.words.ts';
import type { ReplayedAlert } from './replay.rules.ts';
import { findTrial, requestTrial, runTrial, type Trial, trialQueue } from './trials.ts';

/** A limit tried on the past: being worked out, then what would have been either way. */
export async function trialPages(app: FastifyInstance, service: Service): Promise<void> {
  app.get('/watch/trials/:id', (request, reply) => showTrial(service, request, reply));
  app.post(
    '/watch/limits/:rule/:name/trials',
    takes(() => trialSchema(anyNumber)),
    (request, reply) => postTrial(service, request, reply),
  );
  await service.jobs.work<{ id: string }>(
    trialQueue,
    async (jobs) => {
      for (const { id } of jobs) await runTrial(service, id);
    },
    { batch: 1 },
  );
}

/** A page that waits asks again by itself, without a script. */
const againSeconds = '2';

async function showTrial(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const trial = await findTrial(service.db, pathId(request, 'id', 'This trial'));
  const rule = ruleNamed(trial.rule);
  const parameter = rule?.parameters[trial.name];
  if (rule === undefined || parameter === undefined) throw notFound('This limit');
  const waiting = trial.finishedAt === null;
  if (waiting) reply.header('refresh', againSeconds);
  const present = await presentValue(service, trial);
  const unset = trial.value === null;
  const since = daysBefore(trial.createdAt, trial.days);
  const data = {
    heading: rule.heading,
    parameter,
    limit: `/watch/limits/${rule.name}/${trial.name}`,
    place: await scopeName(service.db, trial),
    present: present === null ? '' : valueWords(present, parameter),
    tried: unset ? 'what holds without it' : valueWords(trial.value ?? 0, parameter),
    since: dateWords(since, request.site.timeZone),
    trial,
    waiting,
    hidden: {
      where: whereOf(trial),
      value: trial.value === null ? '' : typedValue(trial.value, parameter),
      reason: trial.reason,
    },
    periods: trialDays.map((days) => ({ days, chosen: days === `${trial.days}` })),
    ...(trial.result === null ? noResult : resultData(trial.result, since, request.site.timeZone)),
    untried: rule.untried ?? '',
    seen: await seenNow(service.db, limitStanding(rule, trial.name)),
    againKey: freshForm().key,
  };
  const form = freshForm();
  return showPage(service, request, reply, 'watch/trial', data, {
    title: `Try: ${parameter.label}`,
    area: 'watch',
    form,
  });
}

/** A number with all its digits, as the form is read: in the unit it is drawn in. */
const typedValue = (value: number, { scale }: Parameter): string =>
  `${Number((scale?.toReader(value) ?? value).toPrecision(12))}`;

const whereOf = ({ systemId, kindId }: Trial) => {
  if (systemId !== null) return `system:${systemId}`;
  return kindId === null ? 'farm' : `kind:${kindId}`;
};

/** What holds there now; of a kind without what single systems have set. */
async function presentValue(service: Service, trial: Trial): Promise<number | null> {
  const rule = ruleNamed(trial.rule);
  if (rule === undefined) return null;
  const kindIds = await kindsOfScope(service.db, trial);
  const origins = (await loadSettings(service.pool)).origins(rule, trial.systemId, kindIds);
  return origins[trial.name]?.value ?? null;
}

const noResult = { sentence: '', changed: [], same: [], systems: '' };

function resultData(
  { before, after, rows, systems }: NonNullable<Trial['result']>,
  since: Date,
  timeZone: string,
) {
  const cell = (alert: ReplayedAlert | null) => (alert === null ? '' : lifeWords(alert, since, timeZone));
  const drawn = rows.map(({ before: old, after: tried }) => {
    const shown = tried ?? old;
    return {
      title: shown?.title ?? '',
      severity: shown?.severity ?? 'watch',
      before: cell(old),
      after: cell(tried),
      changed: cell(old) !== cell(tried),
    };
  });
  const dropped = rows.filter((row) => row.after === null).length;
  const raised = rows.filter((row) => row.before === null).length;
  return {
    sentence: `${plural(before, 'alert', 'alerts')} with the present limit, ${after} with the new one: ${raised} raised, ${dropped} dropped.`,
    changed: drawn.filter((row) => row.changed),
    same: drawn.filter((row) => !row.changed),
    systems: plural(systems, 'system', 'systems'),
  };
}

/** "3 Mar 2026 to 9 Mar 2026", "since 3 Mar 2026"; what stood on the first day may be older. */
function lifeWords({ openedAt, clearedAt }: ReplayedAlert, since: Date, timeZone: string): string {
  const first = openedAt === since.toISOString();
  const from = `${first ? 'before ' : ''}${dateWords(openedAt, timeZone)}`;
  return clearedAt === null ? `since ${from}` : `${from} to ${dateWords(clearedAt, timeZone)}`;
}

async function postTrial(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const { rule, name, parameter } = parameterAt(request);
  return submit(request, reply, {
    schema: trialSchema(parameter),
    act: async (work, { value, where, reason, days }) => {
      const id = await requestTrial(work, request.site.id, { rule, name, value, ...where, reason, days });
      await service.jobs.send(work.tx, trialQueue, { id });
      return { id };
    },
    done: ({ id }) => ({ to: `/watch/trials/${id}` }),
    again: (form) => showLimit(service, request, reply, form),
  });
}
