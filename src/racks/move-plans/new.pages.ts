import { type ParsedUrlQuery, parse } from 'node:querystring';
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { takes } from '../../platform/door/takes.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { fieldErrors } from '../../platform/views/field-errors.ts';
import type { FieldError } from '../../platform/views/page.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { dateWords } from '../../platform/words/times.ts';
import type { RackOverview } from '../overview/overview.rules.ts';
import { rackOverview } from '../overview/overview.ts';
import { draftPlacement } from './draft.ts';
import { type PlacementView, placementView } from './draft-view.ts';
import { movePlanSchema, type PlaceSet, placementRequestSchema } from './move-plans.schema.ts';
import { keepMovePlan } from './move-plans.ts';
import { MOVE_CAUTIONS } from './state.ts';

/** A new plan of moves: what is asked, what comes of it, and keeping it. */
export function newMovePlanPages(app: FastifyInstance, service: Service): void {
  app.get('/moves/new', (request, reply) => showNew(service, request, reply));
  app.post('/moves', takes(movePlanSchema), (request, reply) => postPlan(service, request, reply));
}

const setWords: Record<PlaceSet, string> = {
  wrong: 'Lots in a wrong place on the racks ticked below',
  unplaced: 'Lots without a slot',
  rack: 'All lots of one rack, to empty it',
  codes: 'Lots by their codes',
};

const setNames: Record<PlaceSet, string> = {
  wrong: 'Wrong places',
  unplaced: 'New lots',
  rack: 'A rack emptied',
  codes: 'Chosen lots',
};

interface Asked {
  which: PlaceSet;
  emptyRack: string;
  codes: string;
  use: string[];
  makeWay: string;
}

/** What the address asks; null as long as nothing was asked yet. */
function askedOf(query: ParsedUrlQuery): Asked | null {
  if (query.which === undefined) return null;
  const sent = (name: string) => [query[name] ?? ''].flat().join(' ');
  const which = sent('which');
  return {
    which: which in setWords ? (which as PlaceSet) : 'wrong',
    emptyRack: sent('emptyRack'),
    codes: sent('codes'),
    use: [query.use ?? []].flat().filter((id) => id !== ''),
    makeWay: sent('makeWay'),
  };
}

async function showNew(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const now = service.now();
  const racks = await rackOverview(service.pool, request.site.id, now);
  const query =
    refused === undefined ? (request.query as ParsedUrlQuery) : parse(String(refused.typed.asked ?? ''));
  const asked = askedOf(query);
  const { drawn, errors } = asked === null ? nothingYet : await drawnFor(service, request, asked);
  if (errors.length > 0) reply.status(422);
  const shown = asked ?? { ...blank, emptyRack: '', use: racks.map(({ id }) => id) };
  const name = `${setNames[shown.which]}, ${dateWords(now, request.site.timeZone)}`;
  const form = {
    ...(refused ?? freshForm()),
    typed: { name, ...refused?.typed },
    errors: [...(refused?.errors ?? []), ...errors],
  };
  const data = {
    asked: shown,
    sets: Object.entries(setWords).map(([value, text]) => ({ value, text, checked: value === shown.which })),
    racks: racks.map((rack) => ({ value: rack.id, text: `${rack.name}, ${rack.systemName}` })),
    tanks: tanksOf(racks, new Set(shown.use)),
    askedText: asked === null ? '' : textOf(asked),
    drawn,
    cautions: MOVE_CAUTIONS,
  };
  const options = { title: 'Plan moves', area: 'racks', form } as const;
  return showPage(service, request, reply, 'stock/move-plan-new', data, options);
}

const blank: Omit<Asked, 'use' | 'emptyRack'> = { which: 'wrong', codes: '', makeWay: '' };
const nothingYet = { drawn: null, errors: [] };

const textOf = ({ use, ...asked }: Asked): string =>
  new URLSearchParams([
    ...Object.entries(asked),
    ...use.map((id): [string, string] => ['use', id]),
  ]).toString();

function tanksOf(racks: readonly RackOverview[], use: ReadonlySet<string>) {
  const tanks = Map.groupBy(racks, ({ tankId }) => tankId);
  return [...tanks.values()].map((some) => ({
    name: `${some[0]?.systemName}: ${some[0]?.tankName}`,
    racks: some.map(({ id, name, rows, columns, taken }) => ({
      value: id,
      text: name,
      free: rows * columns - taken,
      checked: use.has(id),
    })),
  }));
}

interface Drawn {
  drawn: (PlacementView & { json: string }) | null;
  errors: FieldError[];
}

async function drawnFor(service: Service, request: FastifyRequest, asked: Asked): Promise<Drawn> {
  const parsed = placementRequestSchema.safeParse(asked);
  if (!parsed.success) return { drawn: null, errors: fieldErrors(parsed.error) };
  try {
    const draft = await draftPlacement(service.pool, request.site.id, parsed.data, service.now());
    const view = placementView(draft);
    return { drawn: { ...view, json: JSON.stringify(view.moves) }, errors: [] };
  } catch (error) {
    if (error instanceof Refusal) return { drawn: null, errors: error.fields };
    throw error;
  }
}

async function postPlan(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: movePlanSchema,
    act: (work, plan) => keepMovePlan(work, request.site.id, plan),
    done: ({ id }) => ({
      to: `/moves/${id}`,
      notice: 'The plan is kept. Its moves come on the rounds, each once its place is free.',
    }),
    again: (form) => showNew(service, request, reply, form),
  });
}
