// Counts down the pumps that are off, on whatever page somebody stands.
import { runTimers } from './round/timer.ts';

runTimers(document.querySelector<HTMLElement>('.pumps-off-now')?.dataset.now);
