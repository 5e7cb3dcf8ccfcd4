import { hostname, networkInterfaces } from 'node:os';
import type { FastifyRequest } from 'fastify';
import { Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';

/** The names and addresses of this machine, by which it can be asked for without anybody having set one. */
function ownNames(): Set<string> {
  const own = hostname().toLowerCase();
  const addresses = Object.values(networkInterfaces()).flatMap((ones) =>
    (ones ?? []).map(({ address }) => address),
  );
  return new Set(['localhost', own, `${own}.local`, ...addresses]);
}

/**
 * The address under which the public reaches the service: as configured, else as it was asked for, where that is this
 * machine. A name that a request merely says (its Host can be made up) never gets on a label.
 */
function knownBase({ config }: Service, request: FastifyRequest): string | null {
  if (config.PUBLIC_URL !== undefined) return config.PUBLIC_URL;
  const asked = `${request.protocol}://${request.host}`;
  if (!URL.canParse(asked)) return null;
  const { hostname: name, origin } = new URL(asked);
  return ownNames().has(name.replace(/^\[|\]$/g, '')) ? origin : null;
}

/** As {@link knownBase}, for what is printed. @throws Refusal 409 where nobody has said under which address buyers come */
export function publicBase(service: Service, request: FastifyRequest): string {
  const base = knownBase(service, request);
  if (base !== null) return base;
  throw new Refusal(
    'Labels lead buyers to an address, and nobody has said which. Set PUBLIC_URL to the address under which buyers reach the service, then print.',
    { status: 409 },
  );
}

/** The address of a tag's public page, which its QR code leads to; null where it is not known. */
export function publicAddress(service: Service, request: FastifyRequest, token: string): string | null {
  const base = knownBase(service, request);
  return base === null ? null : new URL(`/t/${token}`, base).href;
}
