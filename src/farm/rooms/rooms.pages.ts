import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { inputLength, sizeWords } from '../../platform/units/measures.ts';
import { unitsNow } from '../../platform/units/units.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { afterStale } from '../../platform/web/stale-edit.ts';
import { plural } from '../../platform/words/numbers.ts';
import { convertMeasure } from '../../science/units.ts';
import { footprint, freeSpots, overlapping } from './floor.rules.ts';
import { drawFloor, type FloorTank } from './floor-drawing.ts';
import { roomEditSchema, roomSchema } from './rooms.schema.ts';
import { addRoom, editRoom, findRoom, listRooms, type RoomTank, tanksFor } from './rooms.ts';

/** The rooms of a site, and where the tanks are in each. */
export function roomPages(app: FastifyInstance, service: Service): void {
  app.get('/farm/rooms', (request, reply) => showRooms(service, request, reply));
  app.post('/farm/rooms', takes(roomSchema), (request, reply) => postNew(service, request, reply));
  app.get('/farm/rooms/:id', (request, reply) => showRoom(service, request, reply));
  app.post(
    '/farm/rooms/:id',
    takes(() => roomEditSchema(['ID-OF-TANK'])),
    (request, reply) => postRoom(service, request, reply),
  );
}

const title = 'Where the tanks are';

async function showRooms(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const rooms = await listRooms(service.db, request.site.id);
  const data = {
    heading: title,
    rooms: rooms.map(({ id, name, _count }) => ({ id, name, tanks: plural(_count.tanks, 'tank', 'tanks') })),
  };
  const form = refused ?? freshForm({ name: rooms.length === 0 ? request.site.name.slice(0, 60) : '' });
  return showPage(service, request, reply, 'farm/rooms', data, { title, form });
}

async function postNew(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: roomSchema,
    act: (work, { name }) => addRoom(work, request.site.id, name),
    done: ({ id }, { name }) => ({
      to: `/farm/rooms/${id}`,
      notice: `${name} is added. Place its tanks next.`,
    }),
    again: (form) => showRooms(service, request, reply, form),
  });
}

const sides = [
  { side: 'left', label: 'From the left' },
  { side: 'back', label: 'From the back' },
];

const cmInput = (cm: number | undefined) => (cm === undefined ? '' : inputLength(cm * 10));

/** What the form shows of one tank, by the names of its fields. */
const fieldsOf = ({ id, place }: RoomTank) => ({
  [`left_${id}`]: cmInput(place?.leftCm),
  [`back_${id}`]: cmInput(place?.backCm),
  [`turned_${id}`]: place?.turned ? 'yes' : '',
});

async function showRoom(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const room = await findRoom(service.db, pathId(request, 'id', 'This room'));
  const tanks = await tanksFor(service.db, room);
  const { name, version } = room;
  const typed = refused ?? freshForm({ name, version, ...Object.assign({}, ...tanks.map(fieldsOf)) });
  const current = `${name}, with ${plural(tanks.filter(({ place }) => place !== null).length, 'tank', 'tanks')}`;
  const { form, theirs } = afterStale(typed, reply, { version }, current);
  const floor = floorTanks(tanks);
  const data = {
    room,
    theirs,
    picture: drawFloor(floor, convertMeasure('length', 1, unitsNow().length, 'cm')),
    unplaced: floor.filter(({ placed }) => !placed).length,
    overlaps: overlapping(floor.filter(({ placed }) => placed)).map(([a, b]) => `${a.name} and ${b.name}`),
    tanks: tanks.map((tank) => ({
      ...{ id: tank.id, name: tank.name, system: tank.system.name },
      size: sizeWords(tank.lengthMm, tank.widthMm),
      numbers: sides.map(({ side, label }) => ({
        ...{ name: `${side}_${tank.id}`, label },
        value: form.typed[`${side}_${tank.id}`] ?? '',
      })),
      turned: { name: `turned_${tank.id}`, ticked: (form.typed[`turned_${tank.id}`] ?? '') !== '' },
    })),
  };
  return showPage(service, request, reply, 'farm/room', data, {
    title: name,
    form,
    scripts: ['/assets/floor.js'],
  });
}

/** The tanks on the floor: those placed where they are, the others in front of them. */
function floorTanks(tanks: readonly RoomTank[]): FloorTank[] {
  const placed = tanks.flatMap(({ id, name, place, ...tank }) =>
    place === null
      ? []
      : [
          {
            id,
            name,
            placed: true,
            leftCm: place.leftCm,
            backCm: place.backCm,
            ...footprint(tank, place.turned),
          },
        ],
  );
  const rest = tanks.filter(({ place }) => place === null);
  const spots = freeSpots(placed, rest);
  return [
    ...placed,
    ...spots.map((spot, i) => ({ id: rest[i]?.id ?? '', name: rest[i]?.name ?? '', placed: false, ...spot })),
  ];
}

async function postRoom(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const room = await findRoom(service.db, pathId(request, 'id', 'This room'));
  const tanks = await tanksFor(service.db, room);
  return submit(request, reply, {
    schema: roomEditSchema(tanks.map(({ id }) => id)),
    act: (work, value) => editRoom(work, room.id, value),
    done: (_, { name }) => ({
      to: `/farm/rooms/${room.id}`,
      notice: `${name}: where the tanks are is noted.`,
    }),
    again: (form) => showRoom(service, request, reply, form),
  });
}
