import { randomUUID } from 'node:crypto';
import { begin, type Hall, planRound } from '../rounds/hall.ts';
import type { Bench } from '../support/service.ts';

/** Stands in every text that somebody typed at the site that is filled. */
export const mark = 'Zzyx harbour';

const at = new Date('2026-11-24T07:00:00Z');
const day = new Date('2026-11-24');
const later = (hours: number) => new Date(at.getTime() + hours * 3_600_000);

/** What belongs to a site, one of each kind: the kind's name and the id (or the code) of the thing. */
export type Things = Record<string, string>;

/** Fills a hall with one thing of each kind that belongs to a site; every text in it holds the mark. */
export async function fill(bench: Bench, hall: Hall): Promise<Things> {
  const { siteId, systemId, tankId, window, lots } = hall;
  const { db } = bench.service;
  const slot = await db.slot.findFirstOrThrow({ where: { rackId: window } });
  const built = await fillBuilt(bench, hall);
  const water = await fillWater(bench, hall);
  const stock = await fillStock(bench, hall);
  const plan = await planRound(bench, hall, { name: `${mark} round` });
  const round = await begin(bench, hall, plan, '2026-11-24');
  const entry = { roundId: round, kind: 'refused', detail: { note: mark }, at, lotId: lots.A1.id };
  return {
    ...{ system: systemId, tank: tankId, rack: window, slot: slot.id, lot: lots.A1.id, code: lots.A1.code },
    ...{ ...built, ...water, ...stock, plan, round },
    roundEntry: await idOf(db.roundEntry.create({ data: { id: randomUUID(), ...entry } })),
    ...(await fillPests(bench, hall)),
    ...(await fillTold(bench, hall)),
    ...(await fillFiles(bench, siteId)),
  };
}

const idOf = async (row: Promise<{ id: string }>) => (await row).id;

async function fillBuilt(bench: Bench, { siteId, systemId, tankId, window }: Hall): Promise<Things> {
  const { db } = bench.service;
  const lamp = await idOf(
    db.lamp.create({ data: { tankId, name: `${mark} lamp`, litHours: 10, rampHours: 1 } }),
  );
  const survey = { rackId: window, measuredAt: at, meter: mark, immersionFactor: 1, note: mark };
  const times = { offAt: at, dueAt: later(1), lateAt: later(2) };
  const doser = await idOf(db.equipment.create({ data: { systemId, kind: 'doser', name: `${mark} doser` } }));
  const dosed = { equipmentId: doser, fromAt: at, untilAt: later(1), perDay: 1, unit: 'mL', substance: mark };
  const hook = {
    siteId,
    address: `https://example.org/${mark}`,
    events: ['alert.opened'],
    secret: 'whsec_',
    createdAt: at,
  };
  const sent = { event: 'alert.opened', at, nextAt: later(1), told: { subject: mark, page: '/', data: {} } };
  const measured = { equipmentId: doser, at, ml: 1, runs: 1, per: 'minute', note: mark };
  return {
    doser,
    doserPlan: await idOf(db.doserPlan.create({ data: dosed })),
    doserCalibration: await idOf(db.doserCalibration.create({ data: measured })),
    upkeep: await idOf(db.upkeep.create({ data: { equipmentId: doser, work: 'service', at, note: mark } })),
    lamp,
    lampSetting: await idOf(db.lampSetting.create({ data: { lampId: lamp, at, percent: 80, note: mark } })),
    survey: await idOf(db.lightSurvey.create({ data: survey })),
    room: await idOf(
      db.room.create({
        data: { siteId, name: `${mark} room`, tanks: { create: { tankId, leftCm: 0, backCm: 0 } } },
      }),
    ),
    circuit: await idOf(db.circuit.create({ data: { siteId, name: `${mark} circuit` } })),
    topic: await idOf(
      db.mqttTopic.create({ data: { siteId, filter: `${mark}/ph`, payload: 'number', unit: 'pH' } }),
    ),
    webhook: await idOf(db.webhook.create({ data: hook })),
    webhookDelivery: await idOf(
      db.webhookDelivery.create({
        data: {
          webhook: { create: { ...hook, address: `https://${mark.toLowerCase()}.example.org/b` } },
          ...sent,
        },
      }),
    ),
    contact: await idOf(
      db.contact.create({ data: { siteId, role: 'plumber', number: '555 0100', name: mark } }),
    ),
    equipment: await idOf(
      db.equipment.create({ data: { systemId, kind: 'return_pump', name: `${mark} pump` } }),
    ),
    fault: await idOf(db.fault.create({ data: { systemId, seen: mark, notedAt: at } })),
    attachedFile: await idOf(
      db.attachedFile.create({
        data: {
          systemId,
          name: mark,
          what: mark,
          kind: 'application/pdf',
          bytes: 4,
          content: Buffer.from('%PDF'),
        },
      }),
    ),
    event: await idOf(db.systemEvent.create({ data: { systemId, kind: 'power_cut', at, note: mark } })),
    off: await idOf(
      db.switchedOff.create({ data: { systemId, thing: 'heating', what: mark, why: mark, ...times } }),
    ),
    look: await idOf(
      db.look.create({ data: { systemId, key: mark, title: mark, href: '/water', dueAt: later(1) } }),
    ),
  };
}

async function fillWater(bench: Bench, { systemId }: Hall): Promise<Things> {
  const { db } = bench.service;
  const value = { at, value: 8.1, uncertainty: 0.1, enteredText: '8.1', enteredUnit: 'dKH', note: mark };
  const reading = await idOf(db.reading.create({ data: { systemId, quantityCode: 'alkalinity', ...value } }));
  const correction = await idOf(
    db.correction.create({
      data: {
        ...{ systemId, quantityCode: 'alkalinity', substance: 'solution', basis: {}, readingId: reading },
        ...{ fromValue: 8.1, targetValue: 8.5, dailyCap: 1, capSource: mark, volumeL: 1800, startsOn: day },
      },
    }),
  );
  const step = { position: 1, dueOn: day, amount: 10, unit: 'mL', expectedAfter: 8.5, note: mark };
  const routine = { work: 'feeding', detail: { food: mark }, everyDays: 1, startsOn: day };
  return {
    reading,
    correction,
    correctionStep: await idOf(db.correctionStep.create({ data: { correctionId: correction, ...step } })),
    waterChange: await idOf(db.waterChange.create({ data: { systemId, at, volumeL: 100, note: mark } })),
    dose: await idOf(db.dose.create({ data: { systemId, at, substance: mark, amount: 1, unit: 'g' } })),
    feeding: await idOf(db.feeding.create({ data: { systemId, at, food: mark } })),
    routine: await idOf(db.routine.create({ data: { systemId, ...routine } })),
  };
}

async function fillPests(bench: Bench, { systemId }: Hall): Promise<Things> {
  const { db } = bench.service;
  const watch = { systemId, pest: 'unnamed', openedAt: at, openedWhy: mark };
  const watchId = await idOf(db.pestWatch.create({ data: watch }));
  return {
    pestWatch: watchId,
    pestLook: await idOf(db.pestLook.create({ data: { watchId, at, found: 0, note: mark } })),
    pestTreatment: await idOf(
      db.pestTreatment.create({ data: { watchId, at, product: mark, minutes: 10, note: mark } }),
    ),
  };
}

async function fillStock(bench: Bench, { siteId, lots: { A1, A2, B1 } }: Hall): Promise<Things> {
  const { db } = bench.service;
  const lotId = A1.id;
  const until = new Date('2026-12-24');
  const named = { scientificName: mark, identifiedBy: mark, dateIdentified: day };
  const tag = { token: randomUUID(), pieces: 1, issuedAt: at, record: '{}', signature: mark };
  const delivery = { siteId, supplier: mark, cameAt: at, note: mark };
  const taken = { siteId, name: mark, hidden: true, twoPeople: false, startedAt: at };
  const move = await idOf(db.movePlan.create({ data: { siteId, name: `${mark} moves` } }));
  const light = { fromDli: 3, targetDli: 6, maxStepRatio: 1.3, dwellDays: 3, startsOn: day };
  const acclimation = await idOf(
    db.acclimation.create({
      data: {
        ...{ siteId, name: `${mark} light`, purpose: 'brighter', received: 'unknown', ...light },
        lots: { create: { lotId: B1.id } },
      },
    }),
  );
  const sold = await db.ledgerEntry.create({ data: { lotId, at, change: -1, reason: 'sold', note: mark } });
  const sale = { lotId, pieces: 1, buyer: mark, at, ledgerEntryId: sold.id };
  const order = await idOf(
    db.salesOrder.create({
      data: { siteId, number: 1, buyer: mark, contact: mark, note: mark, holdUntil: until },
    }),
  );
  const box = { orderId: order, wall: 'foam', method: 'submerged', pack: 'none', carrier: mark };
  await db.shipment.create({ data: box });
  await db.orderStageChange.create({ data: { orderId: order, stage: 'asked', reason: mark, at } });
  const permit = { orderId: order, position: 1, species: mark, pieces: 1, document: mark, sourceCode: 'C' };
  const deliveryId = await idOf(db.delivery.create({ data: delivery }));
  const line = { deliveryId, position: 1, name: mark, counted: 0, arrivedDead: 0, lightKnown: 'unknown' };
  const stocktakeId = await idOf(db.stocktake.create({ data: taken }));
  const { rackId } = (
    await db.placementSlot.findFirstOrThrow({ where: { placement: { lotId } }, include: { slot: true } })
  ).slot;
  const counted = { stocktakeId, rackId, lotId, counts: { create: { pieces: 1, expected: 1, at } } };
  const image = { width: 1, height: 1, image: Buffer.from('x'), small: Buffer.from('x'), note: mark };
  const fit = { widthMm: 1, depthMm: 1, residualMm: 0, blurMm: 0, tiltDeg: 0, straightBytes: 0 };
  const photograph = await db.rackPhotograph.create({ data: { rackId, takenAt: at, sha256: mark, ...fit } });
  const photographed = await db.rackPhotographLot.create({
    data: { photographId: photograph.id, lotId, slots: mark, leftOut: 'glare' },
  });
  await db.rackPhotographKeeping.create({ data: { siteId } });
  return {
    delivery: deliveryId,
    stocktake: stocktakeId,
    stocktakeLine: await idOf(db.stocktakeLine.create({ data: counted })),
    deliveryLine: await idOf(db.deliveryLine.create({ data: line })),
    placement: await idOf(db.placement.findFirstOrThrow({ where: { lotId } })),
    ledgerEntry: sold.id,
    cut: await idOf(
      db.cut.create({ data: { fromLotId: lotId, intoLotId: A2.id, at, pieces: 1, note: mark } }),
    ),
    healingLook: await idOf(
      db.healingLook.create({
        data: { at, alive: 1, note: mark, cut: { connect: { intoLotId: A2.id } } },
      }),
    ),
    sizeMeasurement: await idOf(
      db.sizeMeasurement.create({ data: { lotId, at, measure: 'length_mm', sizes: [21], note: mark } }),
    ),
    sale: await idOf(db.sale.create({ data: sale })),
    salesOrder: order,
    orderLine: await idOf(db.orderLine.create({ data: { orderId: order, lotId, position: 1, pieces: 1 } })),
    permitLine: await idOf(db.permitLine.create({ data: permit })),
    hold: await idOf(db.hold.create({ data: { lotId, pieces: 1, buyer: mark, until } })),
    condition: await idOf(db.condition.create({ data: { lotId, at, state: 'paling', note: mark } })),
    identification: await idOf(db.identification.create({ data: { lotId, ...named } })),
    photo: await idOf(db.photo.create({ data: { id: randomUUID(), lotId, takenAt: at, ...image } })),
    rackPhotograph: photographed.photographId,
    rackPhotographLot: photographed.id,
    tag: await idOf(db.tag.create({ data: { lotId, ...tag } })),
    movePlan: move,
    plannedMove: await idOf(
      db.plannedMove.create({ data: { planId: move, position: 1, lotId: B1.id, slotIds: [], why: mark } }),
    ),
    acclimation,
    acclimationStep: await idOf(
      db.acclimationStep.create({
        data: { acclimationId: acclimation, position: 1, dueOn: day, dli: 4, lotId: B1.id, note: mark },
      }),
    ),
  };
}

/** What the service tells: alerts, emergencies, digests, trials. */
async function fillTold(bench: Bench, { siteId, systemId }: Hall): Promise<Things> {
  const { db } = bench.service;
  const alert = { rule: 'out-of-band', severity: 'now', worst: 1, openedAt: at, evaluatedAt: at } as const;
  const emergency = randomUUID();
  const event = { id: emergency, siteId, event: 'power', title: mark, startedAt: at, createdAt: at };
  await db.emergency.create({ data: { ...event, systems: { create: { systemId } } } });
  const note = { emergencyId: emergency, kind: 'note', text: mark, at } as const;
  const digest = await idOf(db.digest.create({ data: { siteId, day, madeAt: at, content: {} } }));
  const receiver = await idOf(
    db.digestReceiver.create({ data: { name: mark, email: 'zzyx@example.org', siteIds: [siteId] } }),
  );
  const letter = { digestId: digest, receiverId: receiver, messageId: mark, raw: Buffer.from(mark) };
  const subject = { systemId, subjectType: 'system', subjectId: systemId, title: mark, finding: {} };
  const trial = { siteId, rule: 'out-of-band', name: 'far', reason: mark, days: 30, systemId };
  await db.ruleSetting.create({
    data: { rule: 'condition-noted', systemId, settings: { looked: 2 }, reason: mark },
  });
  return {
    alert: await idOf(db.alert.create({ data: { ...alert, ...subject } })),
    emergency,
    emergencyEntry: await idOf(db.emergencyEntry.create({ data: { id: randomUUID(), ...note } })),
    digest,
    letter: await idOf(db.letter.create({ data: letter })),
    trial: await idOf(db.limitTrial.create({ data: trial })),
  };
}

async function fillFiles(bench: Bench, siteId: string): Promise<Things> {
  const { db } = bench.service;
  const file = { siteId, fileName: `${mark}.csv`, content: Buffer.from('a,b\n1,2\n'), reading: {} };
  return {
    readingsFile: await idOf(db.import.create({ data: { ...file, holds: 'readings' } })),
    lotsFile: await idOf(db.import.create({ data: { ...file, holds: 'lots' } })),
  };
}
