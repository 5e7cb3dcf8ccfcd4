import type { Shipment } from '../../generated/prisma/client.ts';
import type { OrderStage } from '../../generated/prisma/enums.ts';
import type { Work } from '../../platform/change.ts';
import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { notFound, Refusal, staleEdit } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import { acceptedNames } from '../kinds/accepted-names.ts';
import { careOf } from '../kinds/care.ts';
import {
  type Box,
  type BoxVerdict,
  boxVerdict,
  type KindTemperatures,
  type Pack,
  type Wall,
} from './box.rules.ts';
import { permitDifferences } from './permits.rules.ts';
import { temperatureUnit, temperatureWords } from './temperatures.ts';

/** The box of an order as somebody enters it. */
export type NewShipment = Pick<
  Shipment,
  | 'wall'
  | 'lengthMm'
  | 'widthMm'
  | 'bags'
  | 'litresABag'
  | 'method'
  | 'pack'
  | 'carrier'
  | 'hours'
  | 'startDegC'
  | 'coldestDegC'
  | 'warmestDegC'
  | 'claimHours'
  | 'despite'
>;

const orderSubject = (id: string) => ({ type: 'sales_order' as const, id });

/** The box of an order; null where nothing is sent. */
export const shipmentOf = (db: Reader, orderId: string): Promise<Shipment | null> =>
  db.shipment.findUnique({ where: { orderId } });

/** Keeps the box of an order, or changes it. */
export async function setShipment(work: Work, orderId: string, box: NewShipment): Promise<void> {
  const before = await shipmentOf(work.tx, orderId);
  if (before === null) await work.tx.shipment.create({ data: { ...box, orderId } });
  else await work.tx.shipment.update({ where: { orderId }, data: { ...box, version: { increment: 1 } } });
  work.record('order.box_set', orderSubject(orderId), { ...box });
}

/** The order is not sent: its box goes. */
export async function dropShipment(work: Work, orderId: string): Promise<void> {
  const { count } = await work.tx.shipment.deleteMany({ where: { orderId } });
  if (count > 0) work.record('order.box_set', orderSubject(orderId), { carrier: '' });
}

/** A box as the rules see it. */
export function boxOf(shipment: NewShipment): Box {
  const { bags, litresABag, lengthMm, widthMm } = shipment;
  const litres = bags === null || litresABag === null ? null : bags * litresABag;
  const { hours, startDegC, coldestDegC, warmestDegC } = shipment;
  return {
    ...{ wall: shipment.wall as Wall, pack: shipment.pack as Pack, litres },
    ...{ hours, startDegC, coldestDegC, warmestDegC },
    lengthCm: lengthMm === null ? null : lengthMm / 10,
    widthCm: widthMm === null ? null : widthMm / 10,
  };
}

const packedQuery = `
  SELECT line.lot_id AS id, lot.kind_id AS "kindId", kind.name AS kind, line.pieces,
         coalesce((SELECT scientific_name FROM identification WHERE lot_id = lot.id
                    ORDER BY date_identified DESC, created_at DESC LIMIT 1), kind.name) AS species
    FROM order_line AS line JOIN lot ON lot.id = line.lot_id JOIN kind ON kind.id = lot.kind_id
   WHERE line.order_id = $1::uuid ORDER BY line.position, line.id`;

interface Packed {
  id: string;
  kindId: string;
  kind: string;
  pieces: number;
  /** As it is identified; the kind's name where nobody identified it further. */
  species: string;
}

/** The species of an order with their pieces. One query. */
export async function packedSpecies(reader: SqlReader, orderId: string): Promise<Packed[]> {
  return (await reader.query<Packed>(packedQuery, [orderId])).rows;
}

/** What is said of a box and of the permit of an order. */
export interface ShippingCheck {
  /** Null where nothing is sent. */
  box: BoxVerdict | null;
  /** Where permit and packing list differ. */
  differences: string[];
}

/** Asks the box and the permit of an order what speaks against sending it. Seven queries. */
export async function checkShipping(
  reader: SqlReader,
  orderId: string,
  box: Box | null,
): Promise<ShippingCheck> {
  const packed = await packedSpecies(reader, orderId);
  const { rows: permit } = await reader.query<{ species: string; pieces: number }>(
    'SELECT species, pieces FROM permit_line WHERE order_id = $1::uuid ORDER BY position, id',
    [orderId],
  );
  const differences = permitDifferences(permit, packed, await acceptedNames(reader));
  if (box === null) return { box: null, differences };
  const care = await careOf(reader, packed);
  const kinds = new Map<string, KindTemperatures>();
  for (const { id, kind } of packed) {
    const { box_temperature: inBox, temperature: kept } = care.get(id) ?? {};
    kinds.set(`${kind} ${inBox?.low} ${inBox?.high}`, {
      ...{ name: kind, boxLow: inBox?.low ?? null, boxHigh: inBox?.high ?? null },
      ...{ keptLow: kept?.low ?? null, keptHigh: kept?.high ?? null },
    });
  }
  const say = temperatureWords(await temperatureUnit(reader));
  return { box: boxVerdict(box, [...kinds.values()], say), differences };
}

/** @throws Refusal 409 where the box is refused and no reason is given, or the permit is not what is packed */
export function refuseShipping({ box, differences }: ShippingCheck, despite: string): void {
  if (differences.length > 0)
    throw new Refusal(`The permit and the packing list differ. ${differences.join(' ')}`, {
      status: 409,
      field: 'permit',
    });
  if (box?.answer === 'refused' && despite === '')
    throw new Refusal(`${box.lines.join(' ')} Change the box, or say why it is sent anyway.`, {
      status: 409,
      field: 'boxDespite',
    });
}

/** How a box arrived. */
export interface Arrival {
  at: Date;
  late: boolean;
  note: string;
  /** Pieces that were dead, by the line's id. */
  dead: ReadonlyMap<string, number>;
  version: number;
}

/** A box cannot arrive before it was sent; where that was marked late, the note says so. @throws Refusal 422 beside "at" */
async function refuseTooEarly(work: Work, orderId: string, { at, note }: Arrival): Promise<void> {
  const sent = await work.tx.orderStageChange.findFirst({
    where: { orderId, stage: 'gone', NOT: { fromStage: 'settled' } },
    orderBy: { at: 'desc' },
  });
  const { createdAt } = await work.tx.salesOrder.findUniqueOrThrow({ where: { id: orderId } });
  if (at < createdAt) throw new Refusal('The order was taken later than that.', { field: 'at' });
  if (sent !== null && at < sent.at && note === '')
    throw new Refusal(
      'It was marked as sent later than that. Correct the time, or say in the note when it really left.',
      { field: 'at' },
    );
}

/** Writes down how a box arrived, or corrects it. @throws Refusal 404, 409, 422 */
export async function noteArrival(
  work: Work,
  orderId: string,
  stage: OrderStage,
  arrival: Arrival,
): Promise<void> {
  if (stage !== 'gone' && stage !== 'settled' && stage !== 'returned')
    throw new Refusal('This order has not left yet. Say first that it is gone.', { status: 409 });
  const shipment = await shipmentOf(work.tx, orderId);
  if (shipment === null) throw notFound('The box of this order');
  if (shipment.version !== arrival.version) throw staleEdit('how this box arrived');
  const { at, late, note } = arrival;
  await refuseTooEarly(work, orderId, arrival);
  await work.tx.shipment.update({
    where: { orderId },
    data: { arrivedAt: at, late, resultNote: note, version: { increment: 1 } },
  });
  for (const [id, deadOnArrival] of arrival.dead)
    await work.tx.orderLine.updateMany({ where: { id, orderId }, data: { deadOnArrival } });
  const dead = [...arrival.dead.values()].reduce((sum, one) => sum + one, 0);
  work.record('order.arrived', orderSubject(orderId), { at, late, dead, note });
}

/** One line of a permit, as somebody enters it. */
export interface NewPermitLine {
  species: string;
  pieces: number;
  document: string;
  sourceCode: string;
}

/** Adds a line to the permit of an order. */
export async function addPermitLine(work: Work, orderId: string, line: NewPermitLine): Promise<void> {
  const position = (await work.tx.permitLine.count({ where: { orderId } })) + 1;
  await work.tx.permitLine.create({ data: { ...line, orderId, position } });
  work.record('order.permit_changed', orderSubject(orderId), { added: line.species, pieces: line.pieces });
}

/** Takes a line off the permit. @throws Refusal 404 */
export async function removePermitLine(work: Work, orderId: string, id: string): Promise<void> {
  const line = await work.tx.permitLine.findFirst({ where: { id, orderId } });
  if (line === null) throw notFound('This permit line');
  await work.tx.permitLine.delete({ where: { id } });
  work.record('order.permit_changed', orderSubject(orderId), { removed: line.species, pieces: line.pieces });
}
