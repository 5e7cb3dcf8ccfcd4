import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { listPumps } from '../../farm/equipment/equipment.ts';
import { listLampsAbove } from '../../farm/lamps/lamps.ts';
import { findTank } from '../../farm/tanks/tanks.ts';
import type { Service } from '../../platform/service.ts';
import { lengthWords, sizeWords } from '../../platform/units/measures.ts';
import { pagerOf } from '../../platform/views/pager.ts';
import { pageNumber } from '../../platform/web/fields.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { drawRackMiniature } from '../drawing/miniature.ts';
import { facingWords, layOutTank, PLAN_WIDTHS } from '../drawing/tank-plan.rules.ts';
import { drawTankPlan } from '../drawing/tank-plan.ts';
import { racksBySystem, roomSummary } from './overview.rules.ts';
import { rackOverview, racksWanted } from './overview.ts';
import { ROOM_VIEWS, type RoomView, roomCell, roomViewWords } from './room.rules.ts';
import { roomView } from './room-view.ts';

/** All racks, and the racks of one tank. */
export function overviewPages(app: FastifyInstance, service: Service): void {
  app.get('/racks', (request, reply) => showRacks(service, request, reply));
  app.get('/tanks/:id', (request, reply) => showTank(service, request, reply));
}

const querySchema = z.object({ show: z.enum(ROOM_VIEWS).catch('light'), page: pageNumber() });

/** Rooms, or systems whose tanks are in none, on one page of the drawing; own choice. */
const perPage = 6;

const hrefOf = (show: RoomView, page: number) =>
  page > 1 ? `/racks?show=${show}&page=${page}` : show === 'light' ? '/racks' : `/racks?show=${show}`;

async function showRacks(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const { show, page } = querySchema.parse(request.query);
  const { id: siteId } = request.site;
  const [{ sections, racks, count }, wanted] = await Promise.all([
    roomView(service, { siteId, show, page, perPage }),
    racksWanted(service.pool, siteId, service.now()),
  ]);
  const data = {
    views: ROOM_VIEWS.map((view) => ({
      text: roomViewWords[view],
      href: hrefOf(view, page),
      current: view === show,
    })),
    show,
    sections,
    systems: racksBySystem(racks),
    summary: roomSummary(wanted),
    pager: pagerOf({ page, perPage, total: count }, (other) => hrefOf(show, other)),
  };
  return showPage(service, request, reply, 'racks/racks', data, { title: 'Racks', area: 'racks' });
}

async function showTank(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const tank = await findTank(service.db, pathId(request, 'id', 'This tank'));
  const now = service.now();
  const overview = await rackOverview(service.pool, request.site.id, now, [tank.id]);
  const none = new Set<string>();
  const racks = overview.map((rack) => ({
    ...rack,
    deep: lengthWords(rack.depthMm),
    free: rack.rows * rack.columns - rack.taken,
    picture: drawRackMiniature(
      rack.slots.map((slot) => roomCell(slot, 'light', none)),
      rack,
    ),
  }));
  const [lamps, pumps] = await Promise.all([
    listLampsAbove(service.db, tank.id),
    listPumps(service.db, tank.id),
  ]);
  const plan = layOutTank(tank, overview, pumps);
  const data = {
    tank,
    size: sizeWords(tank.lengthMm, tank.widthMm, tank.heightMm),
    racks,
    lamps,
    pumps: pumps.map((pump, i) => ({ ...pump, number: i + 1, facing: facingWords(pump.facingDeg) })),
    scaled: plan.scaled,
    unplaced: plan.unplaced.join(', '),
    plan:
      racks.length === 0 && pumps.length === 0
        ? null
        : {
            wide: drawTankPlan(plan, tank.name),
            narrow: drawTankPlan(layOutTank(tank, overview, pumps, PLAN_WIDTHS.narrow), tank.name),
          },
  };
  return showPage(service, request, reply, 'racks/tank', data, { title: tank.name, area: 'racks' });
}
