import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { findRack, type Rack } from '../../farm/racks/racks.ts';
import { rowLetter } from '../../farm/racks/slots.rules.ts';
import { baseWords, flowText, lotFlowWords } from '../../farm/racks/words.ts';
import { extrapolatedSlots } from '../../farm/surveys/light-map.rules.ts';
import { answers } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { lengthWords } from '../../platform/units/measures.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { numberWords } from '../../platform/words/numbers.ts';
import { tickBar, ticksOf, withTicks } from '../../stock/base/ticks.ts';
import { lotsToAsk } from '../../stock/places/emptied-slots.ts';
import { occupantsOf, type SlotOccupancy, slotOccupancy } from '../../stock/places/occupancy.ts';
import { lastOutlined } from '../../stock/rack-photographs/outlines.ts';
import { LIGHT_STEPS } from '../drawing/light-tones.rules.ts';
import { shortAge, shortConditionWords } from '../drawing/lot-words.rules.ts';
import { drawRack } from '../drawing/rack-drawing.ts';
import { layOutRack } from '../drawing/rack-layout.rules.ts';
import {
  partsOf,
  RACK_SHAPES,
  type RackShape,
  rackShapeWords,
  usualShape,
} from '../drawing/rack-parts.rules.ts';
import { type RackView, rackViews, rackViewWords } from '../drawing/rack-views.ts';
import { type RackAlert, rackAlerts } from './alerts.ts';
import { rackAnswer } from './answers.schema.ts';
import { lightSentences, rackLight } from './light.ts';

/** The page of one rack: its drawing, the same as tables, and the way to moving a lot. */
export function rackPages(app: FastifyInstance, service: Service): void {
  app.get('/racks/:id', (request, reply) => showRack(service, request, reply));
  app.get('/api/racks/:id', answers(rackAnswer), (request) => getRack(service, request));
}

const rackOf = (service: Service, request: FastifyRequest) =>
  findRack(service.db, pathId(request, 'id', 'This rack'));

function viewOf(request: FastifyRequest): RackView {
  const asked = (request.query as { view?: string }).view;
  return rackViews.find((view) => view === asked) ?? 'light';
}

/** From so many columns on a rack can be drawn in parts or turned (own choice). */
const SHAPED_FROM = 12;
const SHAPE_COOKIE = 'evenwater-rack';

/** The shape of racks that was chosen on this device: now by the address, or before; null where none was. */
function shapeOf(request: FastifyRequest, reply: FastifyReply): RackShape | null {
  const named = (text: unknown) => RACK_SHAPES.find((shape) => shape === text);
  const asked = named((request.query as { as?: string }).as);
  if (asked !== undefined)
    void reply.setCookie(SHAPE_COOKIE, asked, {
      path: '/racks',
      httpOnly: true,
      sameSite: 'lax',
      secure: 'auto',
      maxAge: 365 * 24 * 3600,
    });
  return asked ?? named(request.cookies[SHAPE_COOKIE]) ?? null;
}

async function showRack(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const rack = await rackOf(service, request);
  const now = service.now();
  const [slots, light, alerts, toAsk, photographed] = await Promise.all([
    slotOccupancy(service.pool, [rack.id], now),
    rackLight(service.pool, rack.id),
    rackAlerts(service.pool, rack.id, now),
    lotsToAsk(service.pool, request.site.id, { rackId: rack.id }),
    lastOutlined(service, rack.id),
  ]);
  const view = viewOf(request);
  const ticked = ticksOf(request.query);
  const pathOf = (one: RackView) => `/racks/${rack.id}${one === 'light' ? '' : `?view=${one}`}`;
  const { timeZone } = request.site;
  const { rows, columns, base } = rack;
  const extrapolated = extrapolatedSlots(slots);
  const tables = tablesOf(slots, extrapolated, now);
  const shape = shapeOf(request, reply) ?? usualShape(rack);
  const parts = partsOf(slots, { rows, columns }, shape).map((part) => ({
    ...part,
    layout: layOutRack(part.slots, { ...part, base, view, timeZone, now, extrapolated }),
  }));
  const contours = parts.flatMap(({ layout }) => layout.contours.map(({ value }) => value));
  const name = `${rack.name}, ${rack.rows} rows of ${rack.columns} slots`;
  const data = {
    rack,
    where: `${lengthWords(rack.depthMm)} deep, ${baseWords[rack.base]}`,
    sentences: lightSentences(light, timeZone),
    light,
    views: rackViews.map((one) => ({
      href: withTicks(pathOf(one), ticked),
      text: rackViewWords[one],
      current: one === view,
    })),
    view,
    steps: LIGHT_STEPS.join(', '),
    contoured: [...new Set(contours)].map((value) => numberWords(value)).join(', '),
    extrapolated: extrapolated.size,
    pictures: parts.map(({ layout, words }) => ({
      ...drawRack(layout, words === '' ? name : `${name}: ${words}`, hrefOf),
      words,
    })),
    shapes:
      columns < SHAPED_FROM
        ? []
        : RACK_SHAPES.map((one) => ({
            href: withTicks(`${pathOf(view)}${view === 'light' ? '?' : '&'}as=${one}`, ticked),
            text: rackShapeWords[one],
            current: one === shape,
          })),
    ...alertsOf(alerts),
    ...{ toAsk: toAsk.length, photographed },
    ...tables,
    lots: tables.lots.map((lot) => ({ ...lot, ticked: ticked.includes(lot.code) })),
    ticks: tickBar(
      ticked,
      tables.lots.map((lot) => lot.code),
      pathOf(view),
    ),
  };
  const scripts = ['/assets/rack.js', '/assets/ticking.js'];
  return showPage(service, request, reply, 'racks/rack', data, { title: rack.name, area: 'racks', scripts });
}

/** How many alerts are shown unfolded (own choice), so that the drawing stays in sight. */
const SHOWN = 6;

function alertsOf(alerts: readonly RackAlert[]) {
  const shown = alerts.map((alert) => ({ ...alert, more: explainedWords(alert.explains) }));
  return { alerts: shown.slice(0, SHOWN), furtherAlerts: shown.slice(SHOWN), alertCount: shown.length };
}

const explainedWords = (explains: number) =>
  explains === 0 ? '' : `explains ${explains === 1 ? 'one other' : `${explains} others`}`;

/** A taken slot leads to the lot, a free one to moving a lot there. */
const hrefOf = (slot: SlotOccupancy) =>
  slot.lot === null ? `/racks/move?slot=${slot.id}` : `/stock/${encodeURIComponent(slot.lot.code)}`;

/** The drawing as tables: one line a lot, and the free slots row by row. */
function tablesOf(slots: readonly SlotOccupancy[], extrapolated: ReadonlySet<string>, now: Date) {
  const lots = occupantsOf(slots).map(({ lot, slots: taken }) => {
    const known = taken.map((slot) => slot.light).filter((light) => light !== null);
    const mean = (of: (light: (typeof known)[number]) => number) =>
      known.length === 0 ? null : known.reduce((sum, light) => sum + of(light), 0) / known.length;
    const par = mean((light) => light.par);
    const flow = lotFlowWords(taken.map((slot) => slot.flow));
    return {
      ...lot,
      slots: taken.map((slot) => slot.name).join(', '),
      par,
      roundPar: par === null ? null : Math.round(par),
      error: mean((light) => light.error),
      estimated: known.some((light) => light.estimated),
      extrapolated: taken.some((slot) => extrapolated.has(slot.id)),
      here: shortAge(lot.inSlotSince, now),
      held: shortAge(lot.onFarmSince, now),
      flow: { text: flow, figures: [{ name: 'lot.flow', of: lot.id, value: flow, text: flow }] },
      jet: taken.some((slot) => slot.jet),
      lookText: lot.look === null ? null : shortConditionWords(lot.look),
    };
  });
  const free = slots.filter((slot) => slot.lot === null);
  const freeRows = [...Map.groupBy(free, (slot) => slot.row)].map(([row, ofRow]) => ({
    letter: rowLetter(row),
    slots: ofRow.map((slot) => ({
      id: slot.id,
      name: slot.name,
      par: slot.light === null ? null : Math.round(slot.light.par),
      flow: `${flowText(slot.flow)}${slot.jet ? ', jet' : ''}`,
    })),
  }));
  return { lots, freeRows, freeCount: free.length };
}

async function getRack(service: Service, request: FastifyRequest) {
  const rack = await rackOf(service, request);
  const [slots, light] = await Promise.all([
    slotOccupancy(service.pool, [rack.id], service.now()),
    rackLight(service.pool, rack.id),
  ]);
  const figures = slots.flatMap(({ id, light: known }) =>
    known === null ? [] : [{ name: 'slot.light', of: id, value: Math.round(known.par) }],
  );
  return { ...rackBody(rack), light, figures, slots: slots.map(({ rackId, ...slot }) => slot) };
}

const rackBody = ({ id, name, rows, columns, depthMm, base, tank, system, lamp }: Rack) => ({
  id,
  name,
  rows,
  columns,
  depthMm,
  base,
  tank,
  system,
  lamp,
});
