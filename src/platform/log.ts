import { type Logger, pino } from 'pino';
import type { Config } from './config.ts';

/** An error in a line: those of the driver carry the whole client with them, which nobody reads. */
function errorLine(error: unknown): object {
  if (!(error instanceof Error)) return { message: messageOf(error) };
  const { name, message, stack } = error;
  const { code } = error as { code?: unknown };
  return { name, message, ...(code === undefined ? {} : { code }), stack };
}

/** The log of the service: lines of JSON on the standard output. */
export const openLog = (config: Pick<Config, 'LOG_LEVEL'>): Logger =>
  pino({ level: config.LOG_LEVEL, serializers: { err: errorLine, error: errorLine } });

function messageOf(error: unknown): string {
  const { message } = (error ?? {}) as { message?: unknown };
  return typeof message === 'string' ? message : String(error);
}

const againMs = 60_000;
/** More kinds of errors at once than anybody reads; the count of the oldest is let go. */
const mostKinds = 50;

/**
 * Logs an error when it comes first, and while it keeps coming once a minute, with how often it came. For errors that
 * come by the hundred: those of a database that is away.
 */
export function sparingly(log: Pick<Logger, 'error'>, words: string): (error: unknown) => void {
  const told = new Map<string, { at: number; left: number }>();
  return (error) => {
    const kind = messageOf(error);
    const before = told.get(kind);
    const now = Date.now();
    if (before !== undefined && now - before.at < againMs) {
      before.left += 1;
      return;
    }
    told.delete(kind);
    for (const oldest of told.keys()) {
      if (told.size < mostKinds) break;
      told.delete(oldest);
    }
    told.set(kind, { at: now, left: 0 });
    log.error({ err: error, ...(before === undefined ? {} : { cameAgain: before.left }) }, words);
  };
}
