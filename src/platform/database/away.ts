/**
 * Codes of the system, of PostgreSQL and of the Prisma client that say: the database cannot be reached, went away, or
 * cannot write at the moment. The same request may be taken later.
 */
const awayCodes = new Set([
  'ECONNREFUSED',
  'ECONNRESET',
  'EPIPE',
  'ETIMEDOUT',
  'EHOSTUNREACH',
  'ENETUNREACH',
  'ENOTFOUND',
  'EAI_AGAIN',
  // PostgreSQL: ended by an administrator, by a crash, still starting; connection exceptions; too many connections
  '57P01',
  '57P02',
  '57P03',
  '08000',
  '08001',
  '08003',
  '08006',
  '53300',
  // PostgreSQL: disk full, out of memory, a disk that fails, read only (a standby), given up for another transaction
  '53100',
  '53200',
  '58030',
  '25006',
  '40001',
  '40P01',
  // Prisma: not reachable, timed out, closed the connection, no connection of the pool to be had
  'P1001',
  'P1002',
  'P1017',
  'P2024',
  'P2034',
]);

/** What the driver says in words alone, where it gives no code. */
const awayWords =
  /connection terminated|not queryable|connection error|timeout (expired|exceeded when trying to connect)|server closed the connection|database is (not reachable|starting up|shutting down)|unable to start a transaction|transaction (already closed|not found)|expired transaction/i;

/** Whether an error means that the database is away, and not that the request was wrong. Looks through its causes. */
export function isDatabaseAway(error: unknown, depth = 0): boolean {
  if (error === null || typeof error !== 'object' || depth > 5) return false;
  const { code, message, cause, errors, meta } = error as {
    code?: unknown;
    message?: unknown;
    cause?: unknown;
    errors?: unknown;
    meta?: { driverAdapterError?: unknown };
  };
  if (typeof code === 'string' && awayCodes.has(code)) return true;
  if (typeof message === 'string' && awayWords.test(message)) return true;
  const inner = [cause, meta?.driverAdapterError, ...(Array.isArray(errors) ? errors : [])];
  return inner.some((one) => isDatabaseAway(one, depth + 1));
}
