import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { uuidv7 } from 'uuidv7';
import { z } from 'zod';
import type { Work } from '../../platform/change.ts';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { chosen, text, version } from '../../platform/web/fields.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { numberWords, plural } from '../../platform/words/numbers.ts';
import { dateWords, timeWords } from '../../platform/words/times.ts';
import { dayMs } from '../../science/numeric/time.ts';
import { loadFarmContext } from '../file/farm-context.ts';
import { instrumentChoices } from './instrument-choices.ts';
import { faultOfUnit, listProbeNames, type placeProbe, reportCounts } from './probes.ts';
import { countWaiting, mostWaiting, waitingDays } from './waiting.ts';

/** The names under which probes and controllers report, and what each stands for. */
export function probePages(app: FastifyInstance, service: Service, place: Place): void {
  app.get('/water/probes', (request, reply) => showProbes(service, request, reply));
  app.post('/water/probes', takes(placeSchema), (request, reply) =>
    postPlace(service, request, reply, place),
  );
}

/** Places a name and brings in what waited for it. */
type Place = (
  work: Work,
  placing: z.output<typeof placeSchema>,
) => Promise<Awaited<ReturnType<typeof placeProbe>> & { taken: number; since: Date | null; refused: number }>;

const placeSchema = z.object({
  name: text('the name', 300),
  systemId: chosen('Choose the system it measures.'),
  kitId: chosen('Choose the instrument.'),
  version: version(),
});

const week = 7 * dayMs;

async function showProbes(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const now = service.now();
  const [names, counts, farm] = await Promise.all([
    listProbeNames(service.db, request.site.id),
    reportCounts(service.pool, new Date(now.getTime() - week)),
    loadFarmContext(service.db, request.site, now),
  ]);
  const waiting = await countWaiting(
    service.db,
    names.map(({ name }) => name),
    now,
  );
  const kits = instrumentChoices(farm);
  const rows = names.map(({ name, system, kit, unit, unkept, unkeptWhy, version: edited }, i) => {
    const count = counts.find((one) => one.name === name);
    const { taken = 0, rejected = 0, refused: last = '' } = count ?? {};
    const share = taken + rejected === 0 ? 0 : Math.round((100 * rejected) / (taken + rejected));
    return {
      name,
      key: uuidv7(),
      index: i,
      version: edited,
      system: system?.name ?? '',
      systemId: system?.id ?? '',
      kitId: kit?.id ?? '',
      instrument: kit === null ? '' : `${kit.method.quantity.name}: ${kit.label}`,
      taken: numberWords(taken),
      unit: unit ?? '',
      kits: kits.filter(({ quantity }) => quantity === undefined || faultOfUnit(quantity, unit) === null),
      rejected: [
        unkept === 0 ? '' : unkeptWords(unkept, unkeptWhy),
        waitingWords(waiting.get(name), request.site.timeZone),
        rejected === 0 ? '' : `${numberWords(rejected)} (${share} %) that cannot be, in 7 days, last ${last}`,
      ].filter((part) => part !== ''),
    };
  });
  const data = {
    rows,
    ...{ waitingDays, mostWaiting },
    systems: farm.systems.map((system) => ({ value: system.id, text: system.name })),
  };
  const form = refused ?? freshForm();
  return showPage(service, request, reply, 'intake/probes', data, { title: 'Probes', area: 'water', form });
}

/** What came and was not kept: until somebody says what the name is, or since its unit is none of its instrument's. */
const unkeptWords = (unkept: number, why: string) =>
  `${plural(unkept, 'value', 'values')}: ${why === '' ? 'nobody has said yet what it is' : `${why}; place it again`}`;

const whenWords = (at: Date, timeZone: string) => `${dateWords(at, timeZone)}, ${timeWords(at, timeZone)}`;

/** What of that waits to be brought in when the name is placed. */
const waitingWords = (waiting: { values: number; since: Date } | undefined, timeZone: string) =>
  waiting === undefined
    ? ''
    : `${plural(waiting.values, 'value of those waits', 'values of those wait')}, since ${whenWords(waiting.since, timeZone)}, and ${waiting.values === 1 ? 'is' : 'are'} brought in when it is placed`;

async function postPlace(service: Service, request: FastifyRequest, reply: FastifyReply, place: Place) {
  return submit(request, reply, {
    schema: placeSchema,
    act: place,
    done: ({ name, system, label, taken, since, refused }) => ({
      to: '/water/probes',
      notice: [
        `What ${name} reports is kept for ${system}, read by ${label}.`,
        taken === 0 || since === null
          ? ''
          : `${plural(taken, 'value that waited is', 'values that waited are')} brought in, the first from ${whenWords(since, request.site.timeZone)}.`,
        refused === 0
          ? ''
          : `${plural(refused, 'value that waited cannot be', 'values that waited cannot be')} of this instrument, and ${refused === 1 ? 'counts' : 'count'} for nothing.`,
      ]
        .filter((part) => part !== '')
        .join(' '),
    }),
    again: (form) => showProbes(service, request, reply, form),
  });
}
