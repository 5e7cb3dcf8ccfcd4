import { containerFigure, containerWords } from '../../farm/equipment/equipment.words.ts';
import type { Left } from '../../farm/equipment/reservoir.rules.ts';
import { litresNoted } from '../../platform/units/measures.ts';
import { numberWords } from '../../platform/words/numbers.ts';
import { dayMs } from '../../science/numeric/time.ts';
import { doseEffectWords } from '../log/words.rules.ts';
import type { Quantity } from '../quantities/quantities.ts';
import { type Doser, recordOf } from './doser-record.ts';
import { differenceWords } from './dosers.ts';
import { leftInDoser } from './left.ts';
import { doserEffect, reckonedOf, substanceOn } from './posting.ts';
import { perDayAt } from './reckoning.rules.ts';

const daysShown = 28;
const ml = (value: number) => `${numberWords(value, value < 10 ? 1 : 0)} mL`;

/** What the page says of a doser: its plan, what is left, its last weeks, its levels and calibrations. */
export function doserView(doser: Doser, quantities: readonly Quantity[], now: Date) {
  const reckoned = reckonedOf(doser, now);
  const { days, checks } = reckoned;
  const plan = doser.plans.find(({ untilMs }) => untilMs === null) ?? null;
  const perDay = plan === null ? null : perDayAt(recordOf(doser), plan, now.getTime());
  const calibration = doser.calibrations.at(-1) ?? null;
  const effectWords = (amount: number, substance: string) => {
    const effect = doserEffect(doser, substance, amount);
    return doseEffectWords(
      { quantityCode: effect?.quantityCode ?? null, effect: effect?.rise ?? null },
      quantities,
    );
  };
  const isOff = doser.off.some(({ untilMs }) => untilMs === null);
  const left = leftInDoser(doser, now, reckoned);
  const figures = left === null ? [] : [containerFigure(doser.id, containerWords(left))];
  const facts: [string, string][] = [
    [
      'Gives',
      plan === null || perDay === null
        ? 'no plan runs'
        : `${ml(perDay)} a day of ${plan.substance}${plan.unit === 'mL' ? '' : ` (${numberWords(plan.perDay)} ${plan.unit})`}; ${effectWords(perDay, plan.substance)}`,
    ],
    ['Left in it', leftWords(left)],
    [
      'Calibrated',
      calibration === null
        ? 'never: what it gives is taken as it is set'
        : `${numberWords(calibration.mlPer, 2)} mL a ${calibration.per}`,
    ],
    ['Off for now', isOff ? 'yes: nothing is posted while it is off' : ''],
  ];
  const due =
    calibration?.againDays == null ? null : new Date(calibration.ms + calibration.againDays * dayMs);
  return {
    plan,
    facts: facts.filter(([, text]) => text !== '').map(([label, text]) => ({ label, text, figures })),
    due,
    isDue: due !== null && due <= now,
    days: days
      .slice(-daysShown)
      .toReversed()
      .map(({ day, ml: amount }, i) => ({
        day,
        isToday: i === 0,
        amount: ml(amount),
        effect: amount === 0 ? '' : effectWords(amount, substanceOn(doser, day)),
      })),
    checks: checks.toReversed().map((check) => ({
      at: new Date(check.ms),
      seen: litresNoted(check.seenL),
      reckoned: litresNoted(check.reckonedL),
      says: check.differs ? `gave ${differenceWords(check)}` : 'agrees',
      differs: check.differs,
    })),
    calibrations: doser.calibrations
      .toReversed()
      .map((one) => ({ ...one, at: new Date(one.ms), rate: `${numberWords(one.mlPer, 2)} mL a ${one.per}` })),
    plans: doser.plans.toReversed().map(({ id, fromMs, untilMs, perDay: set, unit, substance, by }) => ({
      ...{ id, by, since: new Date(fromMs), until: untilMs === null ? null : new Date(untilMs) },
      gives: `${numberWords(set)} ${unit} a day of ${substance}`,
    })),
    units: [
      { value: 'mL', text: 'mL a day' },
      { value: 'minutes', text: 'minutes a day' },
      { value: 'strokes', text: 'strokes a day' },
    ],
    pers: [
      { value: 'minute', text: 'minutes' },
      { value: 'stroke', text: 'strokes' },
    ],
  };
}

function leftWords(left: Left | null): string {
  if (left === null) return 'not known: say what you see in it';
  const words = containerWords(left);
  return left.litres > 0 ? words : `${words}: no dose is logged until its level is entered`;
}
