import { minuteMs } from '../../science/numeric/time.ts';

/** Minutes after the pumps should run again until an alert asks about them; own choice: time to walk back and enter it. */
export const PUMPS_GRACE_MIN = 5;

/** When pumps that were switched off for a feeding should run again. */
const pumpsDueAt = (fedAt: Date, pumpsOffMin: number): Date =>
  new Date(fedAt.getTime() + pumpsOffMin * minuteMs);

/** When an alert is due because nobody has entered that they run again. */
export const pumpsAlertAt = (fedAt: Date, pumpsOffMin: number): Date =>
  pumpsDueAt(fedAt, pumpsOffMin + PUMPS_GRACE_MIN);
