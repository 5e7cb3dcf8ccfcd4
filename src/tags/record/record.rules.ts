import { dayMs } from '../../science/numeric/time.ts';
import type { Care } from '../../stock/kinds/care.ts';
import { knownAccustomed } from '../../stock/light/accustomed.rules.ts';
import type { Exposure } from '../../stock/light/exposure.ts';
import { farmValue } from '../../water/quantities/quantities.ts';
import { recordDays, type TagFacts, type WaterFacts } from './facts.ts';
import type { RecordedDosing, RecordedLight, RecordedWater, TagRecord } from './record.ts';

const flowOrder = ['still', 'low', 'medium', 'high'];

/** What is used where the care library states nothing (common practice). */
const usual = { stepRatio: 1.5, dwellDays: 7, adaptationDays: 10 };

const round = (value: number, decimals: number) => Number(value.toFixed(decimals));

/** Light over the last `days`, weighted by time; null when less than a day of it is known. */
export function lightOver(exposures: readonly Exposure[], days: number, now: Date): RecordedLight | null {
  const since = now.getTime() - days * dayMs;
  const pieces = exposures
    .map(({ from, to, par, dli, error }) => {
      const begin = Math.max(from.getTime(), since);
      const end = Math.min((to ?? now).getTime(), now.getTime());
      return { par, dli, error, begin, ms: end - begin };
    })
    .filter((piece) => piece.ms > 0);
  const total = pieces.reduce((sum, piece) => sum + piece.ms, 0);
  if (total < dayMs) return null;
  const mean = (of: (piece: (typeof pieces)[number]) => number) =>
    pieces.reduce((sum, piece) => sum + of(piece) * piece.ms, 0) / total;
  const pars = pieces.map((piece) => piece.par);
  return {
    days,
    dailyLight: round(
      mean(({ dli }) => dli),
      2,
    ),
    parLow: Math.round(Math.min(...pars)),
    parHigh: Math.round(Math.max(...pars)),
    error: Math.round(mean(({ error }) => error)),
    knownFrom: new Date(Math.min(...pieces.map(({ begin }) => begin))).toISOString().slice(0, 10),
  };
}

/** The light of the last 30 and 90 days; 90 only where more than the 30 are known. */
function spansOf(exposures: readonly Exposure[], now: Date): RecordedLight[] {
  const [month, quarter] = [30, 90].map((days) => lightOver(exposures, days, now));
  if (!month || !quarter) return [month ?? quarter].filter((span) => span != null);
  return quarter.knownFrom === month.knownFrom ? [month] : [month, quarter];
}

function light({ light: lived, place, care }: TagFacts, now: Date): TagRecord['light'] {
  if (lived.now === null || lived.accustomed === null) return null;
  const spans = spansOf(lived.exposures, now);
  return {
    par: Math.round(lived.now.par),
    dailyLight: round(lived.now.dli, 2),
    estimated: lived.now.estimated,
    measuredOn: place?.measuredAt?.toISOString().slice(0, 10) ?? null,
    error: Math.round(lived.now.error),
    measuredHere: place?.measuredHere ?? false,
    accustomed: round(knownAccustomed(lived, careOf(care).adaptationDays, now) ?? 0, 2),
    hours: place?.litHours ?? 0,
    spans,
  };
}

function flow({ place }: TagFacts): TagRecord['flow'] {
  const sorted = [...(place?.flows ?? [])].sort((a, b) => flowOrder.indexOf(a) - flowOrder.indexOf(b));
  const [low] = sorted;
  const high = sorted.at(-1);
  return low === undefined || high === undefined ? null : { low, high, jet: place?.jet ?? false };
}

function water({ water: measured, quantities }: TagFacts): RecordedWater[] {
  const byCode = new Map(measured.map((facts) => [facts.quantityCode, facts]));
  return quantities.flatMap((quantity) => {
    const facts: WaterFacts | undefined = byCode.get(quantity.code);
    if (facts === undefined) return [];
    const inFarmUnit = (value: number) => round(farmValue(quantity, value).value, quantity.decimals);
    const { tests, belowDetection, from, to } = facts;
    const ends = [inFarmUnit(facts.low), inFarmUnit(facts.high)];
    return {
      quantity: quantity.code,
      name: quantity.name,
      unit: farmValue(quantity, facts.median).unit,
      median: inFarmUnit(facts.median),
      low: Math.min(...ends),
      high: Math.max(...ends),
      tests,
      belowDetection,
      decimals: quantity.decimals,
      doubt: facts.doubted ? 'The farm is checking whether this test reads right' : '',
      from,
      to,
      latest: inFarmUnit(facts.latest),
      ...(facts.waiting === null ? {} : { waiting: inFarmUnit(facts.waiting) }),
    };
  });
}

/** What is known of dosing; of a lot in several systems only what holds for all of them. Null where nothing is known. */
function dosing({ dosing: systems }: TagFacts): RecordedDosing | null {
  const times = new Map<string, number>();
  for (const { substance, times: count } of systems.flatMap(({ substances }) => substances))
    times.set(substance, (times.get(substance) ?? 0) + count);
  const substances = [...times].map(([substance, count]) => ({ substance, times: count }));
  const words = systems.map(({ nothingSince }) => nothingSince);
  const since = words.filter((day) => day !== null);
  const nothingSince =
    words.length > 0 && since.length === words.length ? (since.sort().at(-1) ?? null) : null;
  return substances.length === 0 && nothingSince === null
    ? null
    : { days: recordDays, substances, nothingSince };
}

function careOf(care: Care): TagRecord['care'] {
  return {
    parLow: care.par_range?.low ?? null,
    parHigh: care.par_range?.high ?? null,
    parCeiling: care.par_ceiling?.high ?? null,
    stepRatio: care.step_ratio?.high ?? usual.stepRatio,
    dwellDays: care.dwell_days?.high ?? usual.dwellDays,
    adaptationDays: care.adaptation_days?.high ?? usual.adaptationDays,
    feeding: care.feeding?.words ?? '',
  };
}

function identification({ identification: opinion }: TagFacts): TagRecord['identification'] {
  if (opinion === null) return null;
  const { scientificName, identificationQualifier, identifiedBy, dateIdentified } = opinion;
  return { scientificName, identificationQualifier, identifiedBy, dateIdentified };
}

/** The first of the trade's names of a taxon; a group's names are no name of the piece. */
function commonName({ rank, alsoCalled }: TagFacts['lot']['kind']): Pick<TagRecord, 'commonName'> {
  const [first] = alsoCalled;
  return rank === 'taxon' && first !== undefined ? { commonName: first } : {};
}

/** Composes what is frozen into a tag. */
export function composeRecord(facts: TagFacts, pieces: number, now: Date): TagRecord {
  const { lot, care, cut, condition, feedings } = facts;
  return {
    format: 'evenwater-care-record/4',
    issuedAt: now.toISOString(),
    site: facts.site,
    lot: lot.code,
    ...(lot.ownCode === '' ? {} : { ownCode: lot.ownCode }),
    ...(lot.tradeName === '' ? {} : { tradeName: lot.tradeName }),
    pieces,
    kind: lot.kind.name,
    ...commonName(lot.kind),
    identification: identification(facts),
    light: light(facts, now),
    flow: flow(facts),
    water: water(facts),
    dosing: dosing(facts),
    feeding: {
      times: feedings.times,
      days: recordDays,
      foods: feedings.foods,
      pumpsOffMin: feedings.pumpsOffMin,
    },
    arrivedAt: lot.arrivedAt.toISOString(),
    cut: cut === null ? null : { at: cut.at.toISOString(), from: cut.from },
    descent: facts.descent,
    sizeMm: lot.sizeMm,
    condition: condition === null ? null : { state: condition.state, at: condition.at.toISOString() },
    cautions: care.caution?.words ? [care.caution.words] : [],
    permit: lot.permit,
    care: careOf(care),
  };
}
