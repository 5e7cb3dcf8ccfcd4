import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { fingerprintOf, type Work } from '../../platform/change.ts';
import { readerOf, type SqlReader } from '../../platform/database/sql-reader.ts';
import { type Sample, takes } from '../../platform/door/takes.ts';
import { Refusal } from '../../platform/refusal.ts';
import { seenOf } from '../../platform/seen.ts';
import type { Service } from '../../platform/service.ts';
import type { Area } from '../../platform/views/page.ts';
import { backOf } from '../../platform/web/back.ts';
import { many, optionalText } from '../../platform/web/fields.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { plural } from '../../platform/words/numbers.ts';
import { lotHref } from '../base/lot-href.ts';
import { ticksOf, ticksText, withTicks } from '../base/ticks.ts';
import { lockLots, type TickedLot, tickedLots } from '../lots/ticked-lots.ts';

/** The request behind a form about several lots. */
export interface SeveralContext {
  service: Service;
  request: FastifyRequest;
  site: FastifyRequest['site'];
  now: Date;
  timeZone: string;
}

/** What happens to one lot. */
export interface Outcome {
  /** Why nothing happens to it; "" where it does. */
  refused: string;
  /** What happens: "From EUR 12.00 to EUR 14.00". */
  words: string;
  /** What speaks against it without forbidding it. */
  cautions?: readonly string[];
}

/** An operation on several lots at once, with its page. */
export interface SeveralForm<S extends z.ZodType, R = void> {
  /** Its page and where it is sent. */
  path: string;
  view: string;
  area: Area;
  title(count: number): string;
  /** The button: "Set the price". */
  button: string;
  schema(context: Pick<Sample, 'timeZone' | 'now' | 'site'>): S;
  /** The values of the form when it opens. */
  fresh(context: SeveralContext, lots: readonly TickedLot[]): Record<string, unknown>;
  /** What the page shows besides the form and the lots. */
  data?(context: SeveralContext, lots: readonly TickedLot[], form: FormState): Promise<object> | object;
  /**
   * What happens to each lot, in the order of the lots: asked before, and again under the lock. `value` is null while
   * nothing that can be read is entered.
   */
  outcomes(
    context: SeveralContext,
    reader: SqlReader,
    lots: readonly TickedLot[],
    value: z.output<S> | null,
  ): Promise<Outcome[]> | Outcome[];
  /** Does it to the lots to which something happens. */
  act(work: Work, context: SeveralContext, lots: readonly TickedLot[], value: z.output<S>): Promise<R>;
  /**
   * What is said afterwards, and where it leads if not back to the list; `undo`: where a post takes it back, for what is not
   * undone row by row.
   */
  done(result: R, count: number, value: z.output<S>): { notice: string; to?: string; undo?: string };
  /** True where the lots do not stay ticked. */
  unticks?: boolean;
  /** What is written over on each lot: somebody else's change of it meanwhile is told first. */
  over?(lot: TickedLot): unknown;
  /** True where what happens to each lot must have been read before, not only to which lots something happens. */
  looksFirst?: boolean;
}

const contextOf = (service: Service, request: FastifyRequest): SeveralContext => ({
  service,
  request,
  now: service.now(),
  timeZone: request.site.timeZone,
  site: request.site,
});

/** What is sent besides: the lots, and what its sender saw would happen to them. */
const tickedBody = z.object({
  lot: many().describe('Codes of lots'),
  agreed: z.string().optional().describe('As reading this address with ?ticked=CODE.CODE gives it'),
});

const envelopeSchema = z.object({ agreed: optionalText(20_000).catch('') });

/** What somebody saw would happen. */
const agreedIn = (body: unknown): string => envelopeSchema.parse(body ?? {}).agreed;

/**
 * To which lots something happens, over what, and what, where that has to be read before: what somebody agrees to who
 * sends the form.
 */
function agreement<S extends z.ZodType, R>(
  { looksFirst = false, over }: SeveralForm<S, R>,
  lots: readonly TickedLot[],
  outcomes: readonly Outcome[],
): string {
  const done = lots.filter((_, i) => outcomes[i]?.refused === '').map(({ code }) => code);
  if (looksFirst) return fingerprintOf([done, outcomes]);
  return over === undefined ? ticksText(done) : `${ticksText(done)} ${seenOf(lots.map(over))}`;
}

/** Registers the page of a form about several lots, and its post. */
export function severalForm<S extends z.ZodType, R>(
  app: FastifyInstance,
  service: Service,
  form: SeveralForm<S, R>,
): void {
  app.get(form.path, async (request, reply) => {
    const context = contextOf(service, request);
    const lots = await askedLots(context, request.query);
    return draw(form, context, reply, lots, freshForm(form.fresh(context, lots)));
  });
  const body = takes((sample) => form.schema(sample).and(tickedBody));
  app.post(form.path, body, async (request, reply) => {
    const context = contextOf(service, request);
    return submit(request, reply, {
      schema: form.schema(context),
      act: (work, value) => actOnAll(form, work, context, value),
      done: (result, value) => doneWords(form, context, result, value),
      again: async (state) => draw(form, context, reply, await askedLots(context, request.body), state),
    });
  });
}

const askedLots = ({ service, request }: SeveralContext, asked: unknown) =>
  tickedLots(service.pool, request.site.id, ticksOf(asked));

async function draw<S extends z.ZodType, R>(
  form: SeveralForm<S, R>,
  context: SeveralContext,
  reply: FastifyReply,
  lots: readonly TickedLot[],
  state: FormState,
) {
  const { service, request } = context;
  const typed = form.schema(context).safeParse(state.typed);
  const outcomes = await form.outcomes(context, service.pool, lots, typed.success ? typed.data : null);
  const count = outcomes.filter(({ refused }) => refused === '').length;
  const codes = lots.map(({ code }) => code);
  const heading = form.title(lots.length);
  const data = {
    heading,
    action: form.path,
    rows: lots.map((lot, i) => ({
      ...lot,
      href: lotHref(lot.code),
      ...outcomes[i],
      cautions: outcomes[i]?.cautions ?? [],
    })),
    ticked: ticksText(codes),
    agreed: agreement(form, lots, outcomes),
    back: backOf(request) ?? '/stock',
    backHref: withTicks(backOf(request) ?? '/stock', codes),
    button:
      count === lots.length || count === 0 ? form.button : `${form.button}: ${plural(count, 'lot', 'lots')}`,
    count,
    ...(await form.data?.(context, lots, state)),
  };
  const options = { title: heading, area: form.area, form: state };
  return showPage(service, request, reply, form.view, data, options);
}

interface AllDone<R> {
  result: R;
  count: number;
  /** "R46-TKR: all pieces are held." */
  left: string[];
}

async function actOnAll<S extends z.ZodType, R>(
  form: SeveralForm<S, R>,
  work: Work,
  context: SeveralContext,
  value: z.output<S>,
): Promise<AllDone<R>> {
  const { request } = context;
  const codes = ticksOf(request.body);
  if (codes.length === 0) throw new Refusal('No lot is ticked. Go back to the list and tick some.');
  await lockLots(work.tx, request.site.id, codes);
  const reader = readerOf(work.tx);
  const lots = await tickedLots(reader, request.site.id, codes);
  const outcomes = await form.outcomes(context, reader, lots, value);
  const left = lots.flatMap(({ called }, i) =>
    outcomes[i]?.refused ? [`${called}: ${outcomes[i].refused}`] : [],
  );
  const changed = lots.filter((_, i) => outcomes[i]?.refused === '');
  if (changed.length === 0)
    throw new Refusal('As the form is now, none of these lots is changed. The list says why of each.', {
      status: 409,
    });
  if (agreement(form, lots, outcomes) !== agreedIn(request.body))
    throw new Refusal(
      'Something else would happen than the list said before, by what you entered or because somebody changed a lot meanwhile. Look at the list again, then send it once more.',
      { status: 409 },
    );
  const result = await form.act(work, context, changed, value);
  return { result, count: changed.length, left };
}

/** Reasons that are told after the change; the others are only counted (own choice). */
const TOLD = 3;

function doneWords<S extends z.ZodType, R>(
  form: SeveralForm<S, R>,
  { request }: SeveralContext,
  { result, count, left }: AllDone<R>,
  value: z.output<S>,
): { to: string; notice: string; undo?: string } {
  const { notice, to, undo } = form.done(result, count, value);
  const more = left.length > TOLD ? ` and ${plural(left.length - TOLD, 'other', 'others')}` : '';
  const leftWords =
    left.length === 0
      ? ''
      : ` ${plural(left.length, 'lot is', 'lots are')} left as before: ${left.slice(0, TOLD).join(' ')}${more}`;
  const codes = form.unticks === true ? [] : ticksOf(request.body);
  const said = { to: to ?? withTicks(backOf(request) ?? '/stock', codes), notice: `${notice}${leftWords}` };
  return undo === undefined ? said : { ...said, undo };
}
