import { hostname, networkInterfaces } from 'node:os';
import type { FastifyRequest } from 'fastify';
import type { Config } from '../config.ts';
import { Refusal } from '../refusal.ts';
import { hostOf, isEveryAddress, isLoopback, networkAddresses } from '../words/addresses.ts';

/**
 * The address that a printed code leads to, and who gets there by it. `reach`: 'anybody' with a network; 'house', who is
 * on the farm's own network; 'this machine', nobody but who sits at it; 'unknown', nobody has said an address.
 */
export interface PublicAddress {
  /** Null where it is not known. */
  base: string | null;
  reach: 'anybody' | 'house' | 'this machine' | 'unknown';
  /** What is wrong with it and what to do, in sentences; null where anybody gets there. */
  warning: string | null;
  /** True where a code would open nothing but on this machine: nothing is issued or printed then unasked. */
  hereAlone: boolean;
}

// RFC 1918 and RFC 6598 (IPv4), RFC 4193 and RFC 4291 (IPv6), RFC 6762 and RFC 8375 (names of a home network).
const privateFour =
  /^(10\.|192\.168\.|172\.(1[6-9]|2\d|3[01])\.|169\.254\.|100\.(6[4-9]|[7-9]\d|1[01]\d|12[0-7])\.)/;
const privateSix = /^(f[cd][0-9a-f]{2}:|fe[89ab][0-9a-f]:)/;
const houseName = /^[^.:]+$|\.(local|lan|internal)$|\.home\.arpa$/;
const isFour = (name: string) => /^\d+\.\d+\.\d+\.\d+$/.test(name);

/** Who gets to an address, by its name alone. */
export function reachOf(base: string): Exclude<PublicAddress['reach'], 'unknown'> {
  const name = hostOf(base);
  if (isLoopback(name) || isEveryAddress(name)) return 'this machine';
  if (isFour(name)) return privateFour.test(name) ? 'house' : 'anybody';
  if (name.includes(':')) return privateSix.test(name) ? 'house' : 'anybody';
  return houseName.test(name) ? 'house' : 'anybody';
}

/** The names and addresses of this machine, by which it can be asked for without anybody having set one. */
function ownNames(): Set<string> {
  const own = hostname().toLowerCase();
  const addresses = Object.values(networkInterfaces()).flatMap((ones) =>
    (ones ?? []).map(({ address }) => address),
  );
  return new Set(['localhost', own, `${own}.local`, ...addresses]);
}

/** The address it was asked by, where that is this machine's. A name that a request merely says gets on no label. */
function askedBase(request: FastifyRequest): string | null {
  const asked = `${request.protocol}://${request.host}`;
  if (!URL.canParse(asked)) return null;
  const { hostname: name, origin } = new URL(asked);
  return ownNames().has(name.replace(/^\[|\]$/g, '')) ? origin : null;
}

/** An address by which the house reaches this machine, as an example. */
function example(request: FastifyRequest): string {
  const [first = 'the-name-of-this-machine'] = networkAddresses();
  const port = /:(\d+)$/.exec(request.host)?.[1];
  return `${request.protocol}://${first}${port === undefined ? '' : `:${port}`}`;
}

/**
 * Where codes on tags, labels and signs lead: PUBLIC_URL, else the address of this machine by which it was asked. The one
 * rule for all that is printed.
 */
export function publicAddress({ PUBLIC_URL }: Config, request: FastifyRequest): PublicAddress {
  const base = PUBLIC_URL ?? askedBase(request);
  if (base === null)
    return {
      base,
      reach: 'unknown',
      hereAlone: true,
      warning: `Nobody has said under which address people reach the service, so there is no code to scan. Start the service with PUBLIC_URL set to that address, such as ${example(request)}.`,
    };
  const reach = reachOf(base);
  if (reach === 'anybody') return { base, reach, warning: null, hereAlone: false };
  if (reach === 'house')
    return {
      base,
      reach,
      hereAlone: false,
      warning: `Codes lead to ${base}, which opens on the farm’s own network alone. A buyer at home does not get there.`,
    };
  return {
    base,
    reach,
    hereAlone: true,
    warning: `Codes lead to ${base}, which opens on this machine alone: on a tablet or phone it opens nothing. Start the service with PUBLIC_URL set to the address that people use, such as ${example(request)}.`,
  };
}

/**
 * Holds back what carries a code that opens on this machine alone, until somebody has ticked the box `hereAlone`
 * (`views/partials/here-alone.hbs` draws the warning with it).
 * @throws Refusal 422 at the field `hereAlone`
 */
export function confirmReach(address: PublicAddress, isConfirmed: boolean): void {
  if (isConfirmed || !address.hereAlone) return;
  throw new Refusal(`${address.warning} Tick the box to make it anyway.`, {
    field: 'hereAlone',
  });
}
