/**
 * How long a transaction waits for a connection and may take, ms; what takes longer is given up, and what it held is free
 * again. A busy machine needs more than the driver's usual 5 s.
 */
export const transactionOptions = { timeout: 20_000, maxWait: 10_000 };
