import { existsSync } from 'node:fs';
import { networkInterfaces } from 'node:os';

/** True in a container, by the files that Docker and Podman put into each of theirs (names from memory). */
const isContained = () => existsSync('/.dockerenv') || existsSync('/run/.containerenv');

/**
 * The addresses of this machine on its networks, IPv4 first, without the loopback and link-local ones. None in a container:
 * what it sees are its own addresses, which no tablet reaches, and not those of the machine it runs on.
 */
export function networkAddresses(inContainer = isContained()): string[] {
  if (inContainer) return [];
  const all = Object.values(networkInterfaces()).flatMap((found) => found ?? []);
  const reached = all.filter(({ internal, address }) => !internal && !/^(169\.254\.|fe80:)/i.test(address));
  const four = reached.filter(({ family }) => family === 'IPv4').map(({ address }) => address);
  const six = reached.filter(({ family }) => family === 'IPv6').map(({ address }) => `[${address}]`);
  return four.length > 0 ? four : six;
}

/** True for a host that this machine alone reaches. */
export const isLoopback = (host: string): boolean => /^(127\.\d+\.\d+\.\d+|::1|(.+\.)?localhost)$/.test(host);

/** True for a HOST that stands for all addresses of the machine. */
export const isEveryAddress = (host: string): boolean => host === '0.0.0.0' || host === '::';

/** The host of an address, an IPv6 one without its brackets. */
export const hostOf = (base: string): string => new URL(base).hostname.replace(/^\[|\]$/g, '').toLowerCase();

/** How tablets reach the service: the addresses they open (none while it answers this machine alone), and what to do. */
export interface Reach {
  open: string[];
  words: string;
}

/** @param socket what it is asked by: http or https, and the port it listens on */
export function tabletReach(
  { HOST, PUBLIC_URL }: { HOST: string; PUBLIC_URL?: string | undefined },
  { protocol, port }: { protocol: string; port: number },
  addresses: readonly string[] = networkAddresses(),
): Reach {
  const set = PUBLIC_URL !== undefined && !isLoopback(hostOf(PUBLIC_URL));
  if (set) return { open: [PUBLIC_URL], words: 'Tablets and phones open this address.' };
  if (isLoopback(HOST))
    return {
      open: [],
      words:
        'Only this machine reaches the service so far. Stop it and start it with HOST=0.0.0.0 npm start: tablets on the same network then reach it, and this page shows the address to scan.',
    };
  const names = isEveryAddress(HOST) ? addresses : [HOST.includes(':') ? `[${HOST}]` : HOST];
  if (names.length === 0)
    return {
      open: [],
      words: `The service does not know the addresses of its machine: it runs in a container, or is on no network. Start it with PUBLIC_URL set to the address that tablets open, such as ${protocol}://the-name-of-this-machine:${port}.`,
    };
  return {
    open: names.map((name) => `${protocol}://${name}:${port}`),
    words: 'Tablets on the same network open this address.',
  };
}
