import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { listPumps } from '../../farm/equipment/equipment.ts';
import { listLampsAbove } from '../../farm/lamps/lamps.ts';
import { findTank } from '../../farm/tanks/tanks.ts';
import type { Service } from '../../platform/service.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { slotOccupancy } from '../../stock/places/occupancy.ts';
import { lightTone } from '../drawing/light-tones.rules.ts';
import { drawRackMiniature } from '../drawing/rack-drawing.ts';
import { facingWords, layOutTank } from '../drawing/tank-plan.rules.ts';
import { drawTankPlan } from '../drawing/tank-plan.ts';
import { racksBySystem } from './overview.rules.ts';
import { rackOverview } from './overview.ts';

/** All racks, and the racks of one tank. */
export function overviewPages(app: FastifyInstance, service: Service): void {
  app.get('/racks', (request, reply) => showRacks(service, request, reply));
  app.get('/tanks/:id', (request, reply) => showTank(service, request, reply));
}

async function showRacks(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const racks = await rackOverview(service.pool, request.site.id, service.now());
  const data = { systems: racksBySystem(racks) };
  return showPage(service, request, reply, 'racks/racks', data, { title: 'Racks', area: 'racks' });
}

async function showTank(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const tank = await findTank(service.db, pathId(request, 'id', 'This tank'));
  const now = service.now();
  const overview = await rackOverview(service.pool, request.site.id, now, tank.id);
  const slots = await slotOccupancy(
    service.pool,
    overview.map((rack) => rack.id),
    now,
  );
  const byRack = Map.groupBy(slots, (slot) => slot.rackId);
  const racks = overview.map((rack) => {
    const cells = (byRack.get(rack.id) ?? []).map(({ row, column, light, lot }) => ({
      row,
      column,
      tone: lightTone(light?.par ?? null),
      taken: lot !== null,
      severity: lot?.alert?.severity ?? '',
    }));
    const deep = rack.depthMm / 10;
    return {
      ...rack,
      deep,
      free: rack.rows * rack.columns - rack.taken,
      picture: drawRackMiniature(cells, rack),
    };
  });
  const [lamps, pumps] = await Promise.all([
    listLampsAbove(service.db, tank.id),
    listPumps(service.db, tank.id),
  ]);
  const plan = layOutTank(tank, overview, pumps);
  const data = {
    tank,
    size: [tank.lengthMm, tank.widthMm, tank.heightMm].map((mm) => mm / 10).join(' × '),
    racks,
    lamps,
    pumps: pumps.map((pump, i) => ({ ...pump, number: i + 1, facing: facingWords(pump.facingDeg) })),
    scaled: plan.scaled,
    unplaced: plan.unplaced.join(', '),
    plan: racks.length === 0 && pumps.length === 0 ? '' : drawTankPlan(plan, tank.name),
  };
  return showPage(service, request, reply, 'racks/tank', data, { title: tank.name, area: 'racks' });
}
