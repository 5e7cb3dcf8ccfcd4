import { minuteMs } from '../../science/numeric/time.ts';
/** How long after their time pumps may be noted on before somebody is called, minutes. Own choice. */
export const PUMPS_GRACE_MIN = 5;

/** When pumps that were switched off for a feeding should run again. */
export const pumpsDueAt = (fedAt: Date, pumpsOffMin: number): Date =>
  new Date(fedAt.getTime() + pumpsOffMin * minuteMs);

/** When somebody is called because nobody said that they do. */
export const pumpsCalledAt = (fedAt: Date, pumpsOffMin: number): Date =>
  pumpsDueAt(fedAt, pumpsOffMin + PUMPS_GRACE_MIN);
