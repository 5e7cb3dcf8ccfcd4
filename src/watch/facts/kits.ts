import { dayOf } from '../../science/numeric/time.ts';
import type { KitUse } from './kit-use.ts';
import { momentOf } from './moments.ts';
import type { KitFact, ReadingFact } from './types.ts';

/** The system a kit belongs to. */
export const homeOf = (kit: KitUse): string => kit.systems[0]?.systemId ?? '';

/** A kit with the readings, by any kit, of the water it is used in (by system); `middle` of the band its home keeps, if any. */
export function kitFact(
  kit: KitUse,
  readings: (systemId: string) => readonly ReadingFact[] | undefined,
  middle: number | null,
): KitFact {
  const { id, label, quantityCode, methodName, openedAt, expiresAt, uses, used, laboratory, probe } = kit;
  const systems = kit.systems.map(({ systemId, name, firstMs }) => ({
    systemId,
    name,
    firstDay: momentOf(firstMs).day,
    readings: readings(systemId) ?? [],
  }));
  const last = systems.map((used) => used.readings.findLast((reading) => reading.kitId === id)?.value);
  return {
    id,
    label,
    quantityCode,
    methodName,
    u: Math.hypot(kit.absolute, kit.relative * (last.find((value) => value !== undefined) ?? middle ?? 0)),
    expiresDay: expiresAt === null ? null : dayOf(expiresAt),
    uses,
    used,
    laboratory,
    probe,
    openedDay: dayOf(openedAt),
    openedAt: openedAt.toISOString(),
    retiredDay: kit.retiredAt === null ? null : dayOf(kit.retiredAt),
    checks: kit.checks.map((check) => ({ ...check, ...moment(check.at) })),
    pairs: kit.pairs.map(({ at, ...pair }) => ({ ...pair, day: moment(at).day })),
    systems,
  };
}

function moment(text: string) {
  const at = new Date(text);
  return { at: at.toISOString(), day: dayOf(at) };
}
