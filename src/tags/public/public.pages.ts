import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { notFound } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { showPage } from '../../platform/web/pages.ts';
import { publicAddress } from '../../platform/web/public-address.ts';
import { calendarFile } from '../../platform/words/calendar-file.ts';
import { markOfLot } from '../mark/mark.ts';
import type { TagRecord } from '../record/record.ts';
import { nameWords, recordFacts, soldAsWords, titleWords } from '../record/record-words.ts';
import { publicKeys } from '../record/signing.ts';
import { waterChanges } from '../record/water-change.rules.ts';
import { foundSince } from '../tags/found-since.ts';
import { returnedUnder } from '../tags/returned.ts';
import { type BuyerAnswers, buyerSchema } from '../tags/tags.schema.ts';
import { type ReadTag, readTag, tagSignature } from '../tags/tags.ts';
import { alike, arrivalWarnings } from './arrival.rules.ts';
import { buyerCautions } from './cautions.rules.ts';
import { planDays } from './days.rules.ts';
import { facePicture, type TagFace, tagFace } from './picture.ts';
import {
  flowPicture,
  foodPicture,
  lightPicture,
  pictureWords,
  sliderRange,
  sliderScale,
} from './pictures.rules.ts';
import { type BuyerPlan, buyersPlan, type Height } from './plan.rules.ts';
import { dayOfPlan, planLines } from './plan-lines.ts';

/** What the buyer's phone opens: signed out, without cookies, nothing about the farm beyond the tag. */
export function publicTagPages(app: FastifyInstance, service: Service): void {
  app.get('/t/:token', (request, reply) => showPublicTag(service, request, reply, false));
  app.get('/t/:token/sheet', (request, reply) => showPublicTag(service, request, reply, true));
  app.get('/t/:token/picture', (request, reply) => sendPicture(service, request, reply));
  app.get('/t/:token/plan.ics', (request, reply) => sendCalendar(service, request, reply));
  app.get('/t/:token/record', (request, reply) => sendRecord(service, request, reply));
  app.get('/t/key', async (_, reply) => reply.send({ keys: await publicKeys(service.db) }));
}

/** A page is the same for everybody; whether its tag was withdrawn is seen within a minute. */
const pageKept = 'public, max-age=60';
/** A record is frozen and signed when it is issued. */
const recordKept = 'public, max-age=31536000, immutable';

/** Hours of full light a day where the buyer enters none (common practice). */
const usualHours = 10;

function tokenOf(request: FastifyRequest): string {
  const { token = '' } = request.params as { token?: string };
  if (!/^[\w-]{22}$/.test(token)) throw notFound('This tag');
  return token;
}

/** The heights the buyer measured; else the place whose light they chose. */
function heightsOf({ top, middle, bottom, light }: BuyerAnswers): Height[] {
  const measured = Object.entries({ top, middle, bottom }).flatMap(([name, par]) =>
    par === undefined ? [] : [{ name, par }],
  );
  if (measured.length > 0 || light === undefined) return measured;
  return [{ name: 'place you chose', par: light }];
}

function planFor(record: TagRecord, answers: BuyerAnswers): BuyerPlan | null {
  const heights = heightsOf(answers);
  return heights.length === 0 ? null : buyersPlan(record, { heights, hours: answers.hours ?? usualHours });
}

/** The form's fields as the buyer left them. */
function formValues(answers: BuyerAnswers) {
  const text = (value: number | string | undefined) => (value === undefined ? '' : String(value));
  const { from, ...measured } = answers;
  const figures = {
    light: '',
    top: '',
    middle: '',
    bottom: '',
    hours: '',
    alkalinity: '',
    salinity: '',
    temperature: '',
    bag: '',
  };
  const typed = Object.fromEntries(Object.entries(measured).map(([name, value]) => [name, text(value)]));
  return { ...figures, ...typed, from: text(from) };
}

/** The page, or the same as a sheet to print: everything laid open, no forms. */
async function showPublicTag(service: Service, request: FastifyRequest, reply: FastifyReply, sheet: boolean) {
  const tag = await readTag(service, { token: tokenOf(request) });
  const answers = buyerSchema.parse(request.query);
  const plan = planFor(tag.record, answers);
  const { alkalinity, salinity, temperature, bag, from = null } = answers;
  const arrival = {
    alkalinityDkh: alkalinity,
    salinityPsu: salinity,
    temperatureC: temperature,
    hoursInBag: bag,
  };
  const face = await tagFace(service.db, tag);
  const { base } = publicAddress(service.config, request);
  const data = {
    tag,
    returned: await returnedUnder(service.pool, tag.id),
    foundSince: await foundSince(service.pool, tag),
    face,
    sheet,
    markSource: sheet ? await markOfLot(service.db, tag.lotId) : '',
    title: titleWords(tag.record),
    address: base === null ? '' : new URL(`/t/${tag.token}`, base).href,
    sheetHref: sheetHref(request),
    preview: linkPreview(tag, face, base),
    ...nameWords(tag.record),
    sure: tag.record.identification !== null && !nameWords(tag.record).qualified,
    soldAs: soldAsWords(tag.record),
    rows: recordFacts(tag.record),
    light: lightPicture(tag.record),
    flow: flowPicture(tag.record),
    food: foodPicture(tag.record),
    says: pictureWords(tag.record),
    changes: waterChanges(tag.record),
    cautions: buyerCautions(tag.record),
    slider: { ...sliderRange, scale: sliderScale() },
    answers: formValues(answers),
    detailed: isDetailed(answers),
    plan,
    days: plan !== null && 'steps' in plan ? planDays(plan.steps, from) : [],
    lines: plan === null ? [] : planLines(plan, from),
    calendar: calendarHref(request, from),
    warnings: arrivalWarnings(tag.record, arrival),
    ...alikeWords(alike(tag.record, arrival)),
    unread: unreadableAnswers(request.query, answers),
    answered: Object.values(request.query as object).some((typed) => String(typed).trim() !== ''),
    linkedData: linkedData(tag.record, titleWords(tag.record)),
  };
  return showPage(service, request, reply, 'tags/public', data, {
    title: titleWords(tag.record),
    layout: 'public',
    cache: pageKept,
  });
}

/** "salinity and temperature" for the sentence, and whether its verb is a plural. */
function alikeWords(names: readonly string[]) {
  const said = names.length < 2 ? names.join('') : `${names.slice(0, -1).join(', ')} and ${names.at(-1)}`;
  return { alike: said, alikeMany: names.length > 1 };
}

const labels: Readonly<Record<string, string>> = {
  light: 'the light at its place',
  top: 'near the top',
  middle: 'in the middle',
  bottom: 'at the bottom',
  hours: 'hours of full light',
  from: 'the day it comes',
  bag: 'hours on the way',
  alkalinity: 'alkalinity',
  salinity: 'salinity',
  temperature: 'temperature',
};

/** "alkalinity (150)": what was typed and cannot be. */
function unreadableAnswers(query: unknown, answers: BuyerAnswers): string[] {
  const read = answers as Record<string, unknown>;
  return Object.entries(query as Record<string, unknown>).flatMap(([name, typed]) =>
    labels[name] !== undefined && read[name] === undefined && String(typed).trim() !== ''
      ? [`${labels[name]} (${String(typed).slice(0, 20)})`]
      : [],
  );
}

/** Whether more was answered than the slider and the day. */
const isDetailed = ({ light: _light, from: _from, ...measured }: BuyerAnswers): boolean =>
  Object.values(measured).some((value) => value !== undefined);

/** The sheet with the same answers. */
function sheetHref(request: FastifyRequest): string {
  const [path = '', query = ''] = request.url.split('?');
  return `${path.replace(/\/sheet$/, '')}/sheet${query === '' ? '' : `?${query}`}`;
}

/** What a preview of the address shows (Open Graph protocol, ogp.me): it asks for whole addresses, so none without one. */
function linkPreview(tag: ReadTag, face: TagFace, base: string | null) {
  const { record, token } = tag;
  const says = pictureWords(record);
  return {
    title: titleWords(record),
    description:
      tag.withdrawnAt === null
        ? `From ${record.site}. Light: ${says.light}. Flow: ${says.flow}.`
        : 'This tag was withdrawn.',
    url: base === null ? '' : new URL(`/t/${token}`, base).href,
    image: base === null ? '' : new URL(`/t/${token}/picture`, base).href,
    alt: face.photo === null ? 'A drawing of how corals of this kind grow' : 'A photo of its lot',
  };
}

/** The picture alone: on the page, and for previews of its address. */
async function sendPicture(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const tag = await readTag(service, { token: tokenOf(request) });
  const { type, bytes } = await facePicture(service.db, await tagFace(service.db, tag));
  return reply.type(type).header('cache-control', 'public, max-age=3600').send(bytes);
}

/** The plan's calendar file; '' until the buyer said from which day. */
function calendarHref(request: FastifyRequest, from: string | null): string {
  const [path = '', query = ''] = request.url.split('?');
  return from === null ? '' : `${path.replace(/\/sheet$/, '')}/plan.ics?${query}`;
}

async function sendCalendar(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const tag = await readTag(service, { token: tokenOf(request) });
  const answers = buyerSchema.parse(request.query);
  const plan = planFor(tag.record, answers);
  const { from } = answers;
  if (plan === null || from === undefined) throw notFound('A plan without a day to begin on');
  const days = planLines(plan, from).map(({ fromDay, what }, at) => ({
    uid: `${tag.token}-${at}`,
    when: { day: dayOfPlan(from, fromDay) },
    title: `${tag.record.lot}: ${what}`,
    description: 'Before each step look at it: if it is paler than before, go one step back and wait a week.',
  }));
  return reply
    .type('text/calendar; charset=utf-8')
    .header('content-disposition', `attachment; filename="${tag.record.lot}.ics"`)
    .send(calendarFile({ product: 'Care plan' }, days, service.now()));
}

/** The piece in schema.org's words. */
function linkedData(record: { lot: string; site: string; kind: string }, name: string) {
  return {
    '@context': 'https://schema.org',
    '@type': 'Product',
    name,
    sku: record.lot,
    category: record.kind,
    brand: { '@type': 'Organization', name: record.site },
  };
}

/** The signed record itself, for whoever wants to check it: a JWS whose key is at /t/key. */
async function sendRecord(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const signature = await tagSignature(service.db, tokenOf(request));
  return reply.type('application/jose').header('cache-control', recordKept).send(signature);
}
