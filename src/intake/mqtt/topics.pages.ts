import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { numberWords, plural } from '../../platform/words/numbers.ts';
import { daysBefore } from '../../science/numeric/time.ts';
import { loadFarmContext } from '../file/farm-context.ts';
import { instrumentChoices } from '../probes/instrument-choices.ts';
import { listProbeNames } from '../probes/probes.ts';
import { brokerState } from './connection.ts';
import { isWide, matches } from './filters.rules.ts';
import { readBroker } from './settings.ts';
import { topicSchema } from './topics.schema.ts';
import { addTopic, heardTopics, listTopics, removeTopic, unreadSince } from './topics.ts';

/** Topics of an MQTT broker: which the site listens to, what they stand for, and what could not be read. */
export function topicPages(app: FastifyInstance, service: Service): void {
  app.get('/water/topics', (request, reply) => showTopics(service, request, reply));
  app.post('/water/topics', takes(topicSchema), (request, reply) => postTopic(service, request, reply));
  app.post('/water/topics/:id/removal', (request, reply) => postRemoval(service, request, reply));
}

const shownDays = 7;

const payloadWords = { number: 'plain number', senml: 'SenML', status: 'last will of a device' } as const;

const keptWords = (seconds: number | null): string =>
  seconds === null || seconds < 3600
    ? 'for a short time'
    : seconds < 2 * 86_400
      ? `for ${plural(Math.round(seconds / 3600), 'hour', 'hours')}`
      : `for ${plural(Math.round(seconds / 86_400), 'day', 'days')}`;

async function showTopics(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const { db, pool, config } = service;
  const now = service.now();
  const siteId = request.site.id;
  const settings = readBroker(config);
  const [topics, heard, unread, names, farm, state] = await Promise.all([
    listTopics(db, siteId),
    heardTopics(pool, siteId),
    unreadSince(pool, siteId, daysBefore(now, shownDays)),
    listProbeNames(db, siteId),
    loadFarmContext(db, request.site, now),
    settings === null ? null : brokerState(pool),
  ]);
  const rows = topics.map(({ id, filter, payload, unit, silentWord, refusal }) => {
    const came = heard.filter(({ topic }) => matches(filter, topic));
    const placed = names.find(({ name }) => name === filter);
    return {
      ...{ id, filter, refusal },
      reads: `${payloadWords[payload]}${unit === '' ? '' : `, ${unit}`}${silentWord === '' ? '' : `: “${silentWord}”`}`,
      stands:
        payload !== 'number'
          ? ''
          : isWide(filter)
            ? 'each topic by its name, under Probes'
            : placed?.kit
              ? `${placed.system?.name ?? ''}, ${placed.kit.label}`
              : 'not placed yet, see Probes',
      messages: numberWords(came.reduce((sum, { messages }) => sum + messages, 0)),
      lastAt: came.reduce<Date | null>(
        (last, one) => (last === null || one.lastAt > last ? one.lastAt : last),
        null,
      ),
    };
  });
  const data = {
    broker: settings?.broker ?? null,
    prefix: settings?.prefix ?? null,
    state: state === null ? null : { ...state, keeps: keptWords(state.keepsS) },
    rows,
    silent: heard.filter(({ silentSince }) => silentSince !== null),
    unread,
    kits: instrumentChoices(farm),
    systems: farm.systems.map((system) => ({ value: system.id, text: system.name })),
    payloads: [
      { value: 'number', text: 'A plain number', hint: 'The topic is the name of the probe.' },
      { value: 'senml', text: 'SenML as JSON (RFC 8428)', hint: 'Names, units and times stand in it.' },
      { value: 'status', text: 'The last will of a device', hint: 'A device that says it here is silent.' },
    ],
  };
  const form = refused ?? freshForm({ payload: 'number' });
  return showPage(service, request, reply, 'intake/topics', data, {
    title: 'Topics (MQTT)',
    area: 'water',
    form,
  });
}

async function postTopic(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: topicSchema,
    act: (work, input) => addTopic(work, request.site.id, input),
    done: ({ filter }) => ({ to: '/water/topics', notice: `${filter} is listened to.` }),
    again: (form) => showTopics(service, request, reply, form),
  });
}

async function postRemoval(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This topic');
  return submit(request, reply, {
    schema: z.object({}),
    act: (work) => removeTopic(work, request.site.id, id),
    done: ({ filter }) => ({
      to: '/water/topics',
      notice: `${filter} is not listened to any longer. What came on it stays.`,
    }),
    again: (form) => showTopics(service, request, reply, form),
  });
}
