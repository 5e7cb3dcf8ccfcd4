import type { Config } from './config.ts';

/** Where links in letters lead: where people reach the service, else this very machine. */
export const linkBase = ({ PUBLIC_URL, PORT }: Config): string =>
  PUBLIC_URL ?? `http://localhost:${PORT ?? 8080}`;
