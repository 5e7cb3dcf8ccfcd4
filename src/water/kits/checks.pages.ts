import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { localDay } from '../../platform/days.ts';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { inputMoment } from '../../platform/web/moments.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { capitalized } from '../../platform/words/capitals.ts';
import { numberWords, withSign } from '../../platform/words/numbers.ts';
import type { KitEvidence, KitVerdict } from '../../science/control.ts';
import { uncertaintyOf } from '../entry/entry.rules.ts';
import { type Quantity, say, sayDifference, unitChoices, unitName } from '../quantities/quantities.ts';
import { biasWords, isBiased } from './bias.rules.ts';
import { type KitBias, kitBiases } from './bias.ts';
import { checkChart } from './check-chart.rules.ts';
import { checksVerdict } from './checks.rules.ts';
import { checkSchema, pairSchema, retirementSchema } from './kits.schema.ts';
import { addCheck, addPair, findKit, listKits, retireKit } from './kits.ts';
import { differenceWords } from './paired-tests.rules.ts';

/** One kit: its checks against a standard, its tests beside the kit before, what they come to, and its retirement. */
export function checkPages(app: FastifyInstance, service: Service): void {
  app.get('/water/kits/:id', (request, reply) => showKit(service, request, reply));
  app.post(
    '/water/kits/:id/pairs',
    takes(({ timeZone, now }) => pairSchema(timeZone, now)),
    (request, reply) => postPair(service, request, reply),
  );
  app.post(
    '/water/kits/:id/checks',
    takes(({ timeZone, now }) => checkSchema(timeZone, now)),
    (request, reply) => postCheck(service, request, reply),
  );
  app.post(
    '/water/kits/:id/retirement',
    takes(({ timeZone, now }) => retirementSchema(timeZone, now)),
    (request, reply) => postRetirement(service, request, reply),
  );
}

const kitId = (request: FastifyRequest) => pathId(request, 'id', 'This kit');

const emptyForms = { standard: '', value: '', unit: '', note: '', at: '', old: '', fresh: '', oldKitId: '' };

async function showKit(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const kit = await findKit(service.db, kitId(request));
  const { method } = kit;
  const { quantity } = method;
  const { timeZone } = request.site;
  const [biases, kits] = await Promise.all([kitBiases(service.pool, [kit.id]), listKits(service.pool)]);
  const standing = kit.checks
    .filter((check) => check.voidedAt === null)
    .map((check) => ({ ...check, day: localDay(check.at, timeZone) }));
  const at = inputMoment(service.now(), timeZone);
  const others = kits.filter((one) => one.quantityCode === quantity.code && one.id !== kit.id);
  const before = others.find((one) => one.openedAt < kit.openedAt);
  const form =
    refused ?? freshForm({ ...emptyForms, unit: quantity.displayUnit, at, oldKitId: before?.id ?? '' });
  const expiresOn = kit.expiresOn?.toISOString().slice(0, 10) ?? null;
  const own = kits.find((one) => one.id === kit.id);
  const data = {
    kit: { ...kit, expiresOn, expired: expiresOn !== null && expiresOn < localDay(service.now(), timeZone) },
    left:
      own?.uses == null
        ? null
        : `${numberWords(Math.max(0, own.uses - own.used))} of ${numberWords(own.uses)} tests left`,
    quantity,
    method,
    checks: kit.checks.map((check) => checkRow(quantity, check)),
    verdict: checksVerdict(standing, method, quantity),
    bias: biasFacts(biases.get(kit.id)),
    chart: checkChart(standing, method, timeZone),
    pairs: kit.pairs.map((pair) => ({ ...pair, other: pair.oldKit.label, ...pairWords(quantity, pair) })),
    difference: differenceWords(quantity, standingPairs(kit.pairs, method)),
    others: others.map((one) => ({ value: one.id, text: `${one.label}, ${one.method}` })),
    units: unitChoices(quantity),
    unitName: unitName(quantity.code, quantity.displayUnit),
    pairKey: freshForm().key,
  };
  return showPage(service, request, reply, 'water/kit', data, {
    title: `${kit.label}: ${quantity.name}`,
    area: 'water',
    form,
  });
}

type FoundKit = Awaited<ReturnType<typeof findKit>>;

function checkRow(quantity: Quantity, check: FoundKit['checks'][number]) {
  const error = check.value - check.standardValue;
  return {
    ...check,
    standard: say(quantity, check.standardValue),
    showed: say(quantity, check.value),
    off: withSign(error, sayDifference(quantity, Math.abs(error), check.standardValue)),
  };
}

function pairWords(quantity: Quantity, { oldValue, value }: { oldValue: number; value: number }) {
  const apart = value - oldValue;
  const by = withSign(apart, sayDifference(quantity, Math.abs(apart), oldValue));
  return { old: say(quantity, oldValue), showed: say(quantity, value), by };
}

function standingPairs(pairs: FoundKit['pairs'], method: FoundKit['method']) {
  return pairs
    .filter(({ voidedAt }) => voidedAt === null)
    .map(({ oldValue, value }) => ({
      old: oldValue,
      value,
      u: Math.SQRT2 * uncertaintyOf(oldValue, method),
    }));
}

const evidenceWords: Record<KitEvidence['from'], string> = {
  'opening step': 'the tests jumped when it was opened',
  checks: 'checks against a standard',
  pairs: 'beside the other kit',
};

/** What two bottles come to, where no standard speaks of either. */
const besideWords: Record<KitVerdict, string> = {
  suspect: 'It and the bottle before differ',
  'reads low': 'It and the bottle before differ',
  'reads high': 'It and the bottle before differ',
  'no sign': 'No clear difference from the bottle before',
  'kit or water, cannot tell yet': 'Too few tests yet to say whether it and the bottle before differ',
};

/** What all evidence on a kit comes to, and each part of it. */
function biasFacts(kit: KitBias | undefined) {
  if (kit === undefined || kit.bias === null) return null;
  const parts = kit.evidence.map(
    ({ from, bias, sd }) =>
      `${evidenceWords[from]}: ${withSign(bias, numberWords(Math.abs(bias) * 100, 1))} % ± ${numberWords(sd * 100, 1)} %`,
  );
  const wrong = isBiased(kit);
  const verdict = wrong
    ? `It ${biasWords(kit)}. Its readings are shown corrected, with what was read beside them.`
    : kit.by === 'two bottles'
      ? `${besideWords[kit.verdict]}: beside it, it ${biasWords(kit)}. Which of the two is wrong, a standard tells.`
      : `${capitalized(kit.verdict)}. By all evidence it ${biasWords(kit)}.`;
  return { verdict, parts: parts.join('; ') };
}

async function postCheck(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = kitId(request);
  return submit(request, reply, {
    schema: checkSchema(request.site.timeZone, service.now()),
    act: (work, value) => addCheck(work, id, value),
    done: () => ({
      to: `/water/kits/${id}`,
      notice: 'Check saved. Test the same standard once more: two checks tell more.',
    }),
    again: (form) => showKit(service, request, reply, { ...form, typed: { ...emptyForms, ...form.typed } }),
  });
}

async function postPair(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = kitId(request);
  return submit(request, reply, {
    schema: pairSchema(request.site.timeZone, service.now()),
    act: (work, value) => addPair(work, id, value),
    done: () => ({ to: `/water/kits/${id}`, notice: 'Pair saved. It counts from three pairs on.' }),
    again: (form) => showKit(service, request, reply, { ...form, typed: { ...emptyForms, ...form.typed } }),
  });
}

async function postRetirement(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = kitId(request);
  return submit(request, reply, {
    schema: retirementSchema(request.site.timeZone, service.now()),
    act: (work, { at }) => retireKit(work, id, at),
    done: () => ({ to: '/water/kits', notice: 'The kit is out of use. Its readings and checks stay.' }),
    again: (form) =>
      showKit(service, request, reply, {
        ...form,
        typed: { ...emptyForms, ...form.typed },
      }),
  });
}
