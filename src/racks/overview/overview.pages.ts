import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { pumpsOf } from '../../farm/tanks/pumps.ts';
import { findTank } from '../../farm/tanks/tanks.ts';
import type { Service } from '../../platform/service.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { standingOn } from '../../stock/places/occupancy.ts';
import { rackMiniature } from '../drawing/rack-drawing.ts';
import { toneOf } from '../drawing/rack-layout.rules.ts';
import { facingWords, viewAbove } from '../drawing/tank-plan.rules.ts';
import { abovePicture } from '../drawing/tank-plan.ts';
import { grouped } from './overview.rules.ts';
import { rackOverview } from './overview.ts';

/** All racks, and the racks of one tank. */
export function overviewPages(app: FastifyInstance, service: Service): void {
  app.get('/racks', (request, reply) => showRacks(service, request, reply));
  app.get('/tanks/:id', (request, reply) => showTank(service, request, reply));
}

async function showRacks(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const racks = await rackOverview(service.pool, request.site.id, service.now());
  const data = { systems: grouped(racks) };
  return showPage(service, request, reply, 'racks/racks', data, { title: 'Racks', area: 'racks' });
}

async function showTank(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const tank = await findTank(service.db, pathId(request, 'id', 'This tank'));
  const now = service.now();
  const overview = await rackOverview(service.pool, request.site.id, now, tank.id);
  const slots = await standingOn(
    service.pool,
    overview.map((rack) => rack.id),
    now,
  );
  const slotsOf = Map.groupBy(slots, (slot) => slot.rackId);
  const racks = overview.map((rack) => {
    const cells = (slotsOf.get(rack.id) ?? []).map(({ row, column, light, lot }) => ({
      row,
      column,
      tone: toneOf(light?.par ?? null),
      taken: lot !== null,
      mark: lot?.alert?.severity ?? '',
    }));
    const deep = rack.depthMm / 10;
    return {
      ...rack,
      deep,
      free: rack.rows * rack.columns - rack.taken,
      picture: rackMiniature(cells, rack),
    };
  });
  const [lamps, pumps] = await Promise.all([
    service.db.lamp.findMany({
      where: { tankId: tank.id },
      orderBy: { name: 'asc' },
      include: { settings: { orderBy: { at: 'desc' }, take: 1 } },
    }),
    pumpsOf(service.db, tank.id),
  ]);
  const above = viewAbove(tank, overview, pumps);
  const data = {
    tank,
    size: [tank.lengthMm, tank.widthMm, tank.heightMm].map((mm) => mm / 10).join(' × '),
    racks,
    lamps: lamps.map(lampLine),
    pumps: pumps.map((pump, i) => ({ ...pump, number: i + 1, facing: facingWords(pump.facingDeg) })),
    scaled: above.scaled,
    unplaced: above.unplaced.join(', '),
    above: racks.length === 0 && pumps.length === 0 ? '' : abovePicture(above, tank.name),
  };
  return showPage(service, request, reply, 'racks/tank', data, { title: tank.name, area: 'racks' });
}

const lampLine = ({ id, name, litHours, settings }: LampParts) => ({
  id,
  name,
  litHours,
  setting: settings[0] ?? null,
});

interface LampParts {
  id: string;
  name: string;
  litHours: number;
  settings: { percent: number; at: Date }[];
}
