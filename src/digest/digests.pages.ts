import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { localDay } from '../platform/days.ts';
import { answers, takes } from '../platform/door/takes.ts';
import { notFound } from '../platform/refusal.ts';
import type { Service } from '../platform/service.ts';
import { isManager } from '../platform/web/access.ts';
import { tick } from '../platform/web/fields.ts';
import { type FormState, freshForm, submit } from '../platform/web/forms.ts';
import { checked } from '../platform/web/json.ts';
import { calendarDay } from '../platform/web/moments.ts';
import { showPage } from '../platform/web/pages.ts';
import { plural } from '../platform/words/numbers.ts';
import { timeWords } from '../platform/words/times.ts';
import { digestAnswer } from './answers.schema.ts';
import { findDigest, listDigests, makeDigest, makeDigestAgain, type SavedDigest } from './digests.ts';
import { alertsSince } from './facts.ts';
import { type LetterStatus, lettersOf } from './letters.ts';
import {
  cardsCaption,
  digestText,
  digestView,
  type Matter,
  matterPicture,
  mattersOf,
  systemCards,
  workWords,
} from './text.ts';

const letterBody = z.object({ mail: z.boolean().default(false) });

/** The manager's page of a morning, and the earlier ones. */
export function digestPages(app: FastifyInstance, service: Service): void {
  app.get('/digest', (request, reply) => showNewest(service, request, reply));
  app.post('/digest', async (request, reply) => {
    checked(z.object({}), request.body ?? {});
    await makeDigest(service, request.site.id, service.now());
    request.session.set(
      'notice',
      'Made, as things are now. The next one is made tomorrow morning by itself.',
    );
    return reply.redirect('/digest', 303);
  });
  app.get('/digest/:day', (request, reply) => showDay(service, request, reply));
  app.get('/digest/:day/text', (request, reply) => sendText(service, request, reply));
  app.post('/digest/:day/again', takes(againSchema), (request, reply) => postAgain(service, request, reply));
  app.get('/api/digests/:day', answers(digestAnswer), async (request, reply) =>
    reply.send(digestJson(await digestOf(service, request))),
  );
  app.post(
    '/api/digests/:day/again',
    takes(letterBody, { answers: digestAnswer }),
    async (request, reply) => {
      const { mail } = checked(letterBody, request.body ?? {});
      const { day } = await digestOf(service, request);
      await request.change((work) => makeDigestAgain(service, work, { site: request.site, day, mail }));
      return reply.send(digestJson(await digestOf(service, request)));
    },
  );
}

/** What it says, with when it was made, and when it was made before. */
const digestJson = ({ content, madeAt, version, earlier }: SavedDigest) => ({
  ...content,
  madeAt,
  version,
  earlier,
});

const againSchema = z.object({ mail: tick() });

async function postAgain(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const { day } = await digestOf(service, request);
  return submit(request, reply, {
    schema: againSchema,
    act: (work, { mail }) => makeDigestAgain(service, work, { site: request.site, day, mail }),
    done: () => ({ to: `/digest/${day}`, notice: 'Made again, as things are now.' }),
    again: async (form) => show(service, request, reply, await digestOf(service, request), form),
  });
}

function digestOf(service: Service, request: FastifyRequest): Promise<SavedDigest> {
  const { day } = request.params as { day: string };
  if (!calendarDay().safeParse(day).success) throw notFound('A digest of this day');
  return findDigest(service, request.site.id, day);
}

async function show(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  digest: SavedDigest | null,
  refused?: FormState,
) {
  const earlier = (await listDigests(service, request.site.id)).filter((one) => one.day !== digest?.day);
  const shown =
    digest === null
      ? null
      : {
          digest,
          ...(await drawnOf(service, request, digest)),
          letters: await letterRows(service, request, digest),
          before: digest.earlier.map(({ madeAt, content }) => ({
            madeAt: new Date(madeAt),
            content,
            groups: digestView({ content }).groups,
          })),
          isToday: digest.day === localDay(service.now(), request.site.timeZone),
        };
  const data = { shown, earlier: earlier.map(({ day, content }) => ({ day, headline: content.headline })) };
  return showPage(service, request, reply, 'digest/digest', data, {
    title: 'Digest',
    area: 'digest',
    form: refused ?? freshForm({ mail: '' }),
  });
}

const drawn = (matter: Matter) => ({ ...matter, svg: matterPicture(matter) });

/** Its matters with what became of them since, and its systems. */
async function drawnOf(service: Service, request: FastifyRequest, digest: SavedDigest) {
  const ids = digest.content.alerts.map(({ id }) => id);
  const since = ids.length === 0 ? [] : await alertsSince(service.pool, ids);
  const { timeZone } = request.site;
  const matters = mattersOf(digest, { timeZone, now: service.now(), since });
  const systems = systemCards(digest.content, digest.madeAt);
  return {
    ...matters,
    content: digest.content,
    open: matters.open.map(drawn),
    watched: matters.watched.map(drawn),
    systems,
    systemsCaption: cardsCaption(systems),
    workWords: workWords(digest.content.work),
  };
}

/** How its letters went, for whoever may do something about it. */
async function letterRows(service: Service, request: FastifyRequest, digest: SavedDigest) {
  const { person } = request.pageContext;
  if (person !== null && !isManager(person.role)) return [];
  const { timeZone } = request.site;
  const sending = service.config.SMTP_URL !== undefined;
  return (await lettersOf(service, digest.id)).map((letter) => ({
    ...letter,
    words: letterStatusWords(letter, sending, timeZone),
  }));
}

function letterStatusWords(letter: LetterStatus, sending: boolean, timeZone: string): string {
  const { sentAt, givenUpAt, nextAt, attempts } = letter;
  if (sentAt !== null) return `sent ${timeWords(sentAt, timeZone)}`;
  if (givenUpAt !== null) return 'not sent, given up';
  if (!sending) return 'kept, no mail server is set';
  if (attempts === 0) return 'about to be sent';
  return `not sent yet after ${plural(attempts, 'try', 'tries')}, again at ${timeWords(nextAt, timeZone)}`;
}

async function showNewest(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const [newest = null] = await listDigests(service, request.site.id, 1);
  return show(service, request, reply, newest);
}

async function showDay(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return show(service, request, reply, await digestOf(service, request));
}

async function sendText(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const digest = await digestOf(service, request);
  return reply.type('text/plain; charset=utf-8').send(digestText(service, request.site, digest));
}
