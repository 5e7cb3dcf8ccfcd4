import type { LightSurvey } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import { dateWords } from '../../platform/words/times.ts';
import { findRack, type Rack } from '../racks/racks.ts';
import { type Cell, cellsOf, isInGrid, type RackSlot, slotName } from '../racks/slots.rules.ts';
import { slotsOfRack } from '../racks/slots.ts';
import { krigeLight, type SurveyedSlot, slotPitch } from './light-map.rules.ts';
import { correctedPar } from './meter.rules.ts';
import { fewestReadings, type SurveyInput } from './surveys.schema.ts';

/** The setting of lamps in force at a time; null where none was entered. */
async function settingAt(db: Reader, lampId: string | null, at: Date) {
  if (lampId === null) return null;
  return db.lampSetting.findFirst({ where: { lampId, at: { lte: at } }, orderBy: { at: 'desc' } });
}

/** The factor belongs to the meter's model, so another factor than last time is refused until it is confirmed. */
async function refuseChangedFactor(work: Work, input: SurveyInput, timeZone: string): Promise<void> {
  if (input.factorChecked) return;
  const before = await work.tx.lightSurvey.findFirst({
    where: { meter: { equals: input.meter, mode: 'insensitive' }, voidedAt: null },
    orderBy: { measuredAt: 'desc' },
  });
  if (before === null) return;
  const same =
    before.immersionFactor === input.immersionFactor && before.factorInMeter === input.factorInMeter;
  if (same) return;
  const how = before.factorInMeter ? 'applied by the meter itself' : 'applied here';
  const when = dateWords(before.measuredAt, timeZone);
  throw new Refusal(
    `On ${when} this meter had the factor ${before.immersionFactor}, ${how}. A factor belongs to the sensor's model and counts once. Look again; if the new one is right, say so below.`,
    { field: 'immersionFactor' },
  );
}

/** Enters the lamps' setting in their history, where none is known or where they stay at another one. */
async function noteSetting(work: Work, rack: Rack, input: SurveyInput): Promise<void> {
  if (rack.lamp === null || input.lampPercent === null) return;
  const known = await settingAt(work.tx, rack.lamp.id, input.measuredAt);
  if (known?.percent === input.lampPercent || (known !== null && !input.settingStays)) return;
  const lamp = await work.tx.lamp.findUniqueOrThrow({ where: { id: rack.lamp.id } });
  const hours = { litHours: known?.litHours ?? lamp.litHours, rampHours: known?.rampHours ?? lamp.rampHours };
  await work.tx.lampSetting.create({
    data: {
      lampId: rack.lamp.id,
      at: input.measuredAt,
      percent: input.lampPercent,
      ...hours,
      note: 'As found at a light survey',
      accountId: work.accountId,
    },
  });
  work.record(
    'lamp_setting.entered',
    { type: 'lamp', id: rack.lamp.id },
    { at: input.measuredAt, percent: input.lampPercent },
  );
}

/** What the lamps stood at by their history, where the survey does not say; null where nobody entered it, or there are none. */
const percentThen = async (work: Work, { lamp }: Rack, { measuredAt }: SurveyInput): Promise<number | null> =>
  (await settingAt(work.tx, lamp?.id ?? null, measuredAt))?.percent ?? null;

/** The readings with their slots and their corrected light. */
function readingsOf(slots: readonly RackSlot[], input: SurveyInput) {
  const bySlot = new Map(slots.map((slot) => [slot.slotId, slot]));
  return input.points.map(({ slotId, raw }) => {
    const slot = bySlot.get(slotId);
    if (slot === undefined) throw new Refusal('One of the slots is not on this rack.', { field: 'points' });
    return { ...slot, raw, par: correctedPar(raw, input) };
  });
}

/**
 * Enters a light survey: what the meter showed, the corrected light, and the kriged light with its standard error at
 * every slot of the rack.
 * @throws Refusal 404, 422 (too few readings, another factor than this meter had)
 */
export async function enterSurvey(
  work: Work,
  rackId: string,
  typed: SurveyInput,
  timeZone: string,
): Promise<{ id: string; lampPercent: number | null }> {
  const rack = await findRack(work.tx, rackId);
  await refuseChangedFactor(work, typed, timeZone);
  const input = { ...typed, lampPercent: typed.lampPercent ?? (await percentThen(work, rack, typed)) };
  const slots = await slotsOfRack(work.tx, rack);
  const readings = readingsOf(slots, input);
  if (readings.length < fewestReadings(slots.length))
    throw new Refusal('Three readings at least are needed, or all slots of a smaller rack.', {
      field: 'points',
    });
  await noteSetting(work, rack, input);
  const { factorChecked, settingStays, points, ...head } = input;
  const { id } = await work.tx.lightSurvey.create({ data: { ...head, rackId, accountId: work.accountId } });
  await work.tx.lightSurveyPoint.createMany({
    data: readings.map(({ slotId, raw, par }) => ({ surveyId: id, slotId, raw, par })),
  });
  await work.tx.slotLight.createMany({
    data: krigeLight(readings, slots, slotPitch(rack)).map((light) => lightRow(id, light)),
  });
  const summary = { measuredAt: input.measuredAt, readings: readings.length, lampPercent: input.lampPercent };
  work.record('light_survey.entered', { type: 'rack', id: rackId }, { surveyId: id, ...summary });
  work.reevaluate(rack.system.id);
  return { id, lampPercent: input.lampPercent };
}

const lightRow = (surveyId: string, { slotId, par, error, measured }: SurveyedSlot) => ({
  surveyId,
  slotId,
  par,
  error,
  measured,
});

/** Voids a survey: it no longer counts, and is still shown with the reason. @throws Refusal 404, 409 when voided already */
export async function voidSurvey(work: Work, rackId: string, id: string, reason: string): Promise<void> {
  const rack = await findRack(work.tx, rackId);
  const data = { voidedAt: work.now, voidReason: reason };
  const voided = await work.tx.lightSurvey.updateMany({ where: { id, rackId, voidedAt: null }, data });
  if (voided.count === 0) {
    await findSurvey(work.tx, rackId, id);
    throw new Refusal('This survey is voided already.', { status: 409 });
  }
  work.record('light_survey.voided', { type: 'rack', id: rackId }, { surveyId: id, reason });
  work.reevaluate(rack.system.id);
}

/** @throws Refusal 404 */
export async function findSurvey(db: Reader, rackId: string, id: string): Promise<LightSurvey> {
  const survey = await db.lightSurvey.findFirst({ where: { id, rackId } });
  if (survey === null) throw notFound('This survey');
  return survey;
}

const atSite = (siteId: string) => ({ rack: { tank: { system: { siteId } } } });

/** The survey entered last anywhere at the site, for the meter it was made with. */
export function lastEnteredSurvey(db: Reader, siteId: string): Promise<LightSurvey | null> {
  const where = { voidedAt: null, ...atSite(siteId) };
  return db.lightSurvey.findFirst({ where, orderBy: { createdAt: 'desc' } });
}

/** The names of all meters that surveys of the site were made with. */
export async function listMeters(db: Reader, siteId: string): Promise<string[]> {
  const where = atSite(siteId);
  const meters = await db.lightSurvey.groupBy({ by: ['meter'], where, orderBy: { meter: 'asc' } });
  return meters.map((one) => one.meter);
}

/** One slot of a survey: what the meter showed (null: not measured here), the light and its standard error, umol/(m2 s). */
export interface SurveyCell extends Cell {
  id: string;
  name: string;
  raw: number | null;
  par: number;
  error: number;
  measured: boolean;
}

/** A survey as the rows of its rack; null for a slot that was added since. */
export async function surveyGrid(db: Reader, rack: Rack, surveyId: string): Promise<(SurveyCell | null)[][]> {
  const slot = { select: { row: true, column: true } };
  const [light, points] = await Promise.all([
    db.slotLight.findMany({ where: { surveyId }, include: { slot } }),
    db.lightSurveyPoint.findMany({ where: { surveyId } }),
  ]);
  const raw = new Map(points.map((point) => [point.slotId, point.raw]));
  const cells = new Map(
    light
      .filter((one) => isInGrid(one.slot, rack))
      .map(({ slotId, slot: cell, par, error, measured }) => [
        slotName(cell),
        { ...cell, id: slotId, name: slotName(cell), raw: raw.get(slotId) ?? null, par, error, measured },
      ]),
  );
  const all = cellsOf(rack.rows, rack.columns).map((cell) => cells.get(slotName(cell)) ?? null);
  return Array.from({ length: rack.rows }, (_, row) =>
    all.slice(row * rack.columns, (row + 1) * rack.columns),
  );
}

/** A rack's surveys, newest first. */
export async function listSurveys(db: Reader, rackId: string) {
  const surveys = await db.lightSurvey.findMany({
    where: { rackId },
    orderBy: [{ measuredAt: 'desc' }, { id: 'desc' }],
    include: { _count: { select: { points: true } } },
  });
  return surveys.map(({ _count, ...survey }) => ({ ...survey, readings: _count.points }));
}
