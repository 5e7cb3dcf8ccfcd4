// Loaded before a service: its clock is ahead by as many ms as the file named by CLOCK_FILE says.
import { readFileSync } from 'node:fs';

const RealDate = Date;
let ahead = 0;
const read = () => {
  try {
    ahead = Number(readFileSync(process.env.CLOCK_FILE ?? '', 'utf8')) || 0;
  } catch {
    ahead = 0;
  }
};
setInterval(read, 200).unref();
const now = () => RealDate.now() + ahead;
globalThis.Date = class extends RealDate {
  constructor(...given: [] | [number]) {
    super(...((given.length === 0 ? [now()] : given) as [number]));
  }
  static override now() {
    return now();
  }
} as DateConstructor;
