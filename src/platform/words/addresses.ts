import { networkInterfaces } from 'node:os';

/** The addresses of this machine on its networks, IPv4 first, without the loopback and link-local ones. */
export function networkAddresses(): string[] {
  const all = Object.values(networkInterfaces()).flatMap((found) => found ?? []);
  const reached = all.filter(({ internal, address }) => !internal && !/^(169\.254\.|fe80:)/i.test(address));
  const four = reached.filter(({ family }) => family === 'IPv4').map(({ address }) => address);
  const six = reached.filter(({ family }) => family === 'IPv6').map(({ address }) => `[${address}]`);
  return four.length > 0 ? four : six;
}
