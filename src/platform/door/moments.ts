import { AsyncLocalStorage } from 'node:async_hooks';

// What a program reads says some things that go on with the clock: the light a lot is used to, how long something has been
// off. So one question is answered by one moment, and is asked again by that moment where somebody wants to know whether
// anything but the time has changed.

const moments = new AsyncLocalStorage<Date>();

/** The clock as areas get it: it stands still within `readAt`, and is `now` otherwise. */
export const standingClock = (now: () => Date) => (): Date => moments.getStore() ?? now();

/** Does something by the clock of one moment. */
export const readAt = (moment: Date, act: () => void): void => moments.run(moment, act);
