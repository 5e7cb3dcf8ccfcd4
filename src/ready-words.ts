import { networkInterfaces } from 'node:os';

/** The addresses of this machine on its networks, IPv4 first, without the loopback and link-local ones. */
function networkAddresses(): string[] {
  const all = Object.values(networkInterfaces()).flatMap((found) => found ?? []);
  const reached = all.filter(({ internal, address }) => !internal && !/^(169\.254\.|fe80:)/i.test(address));
  const four = reached.filter(({ family }) => family === 'IPv4').map(({ address }) => address);
  const six = reached.filter(({ family }) => family === 'IPv6').map(({ address }) => `[${address}]`);
  return four.length > 0 ? four : six;
}

const loopback = /^(127\.|::1$|localhost$)/;
const everyAddress = new Set(['0.0.0.0', '::']);

/**
 * What a start says to whoever sits at the machine: where to open the service, and how tablets reach it.
 * @param address where it listens: http://127.0.0.1:8080
 * @param hasOwner false on an empty database, whose first page makes the owner's account
 */
export function readyWords(
  { address, host, publicUrl }: { address: string; host: string; publicUrl: string | undefined },
  hasOwner: boolean,
  addresses: readonly string[] = networkAddresses(),
): string[] {
  const { port } = new URL(address);
  const here = everyAddress.has(host) ? `http://localhost:${port}` : address;
  const lines = [`Evenwater is ready: ${here}`];
  if (!hasOwner) lines.push('Open that address in a browser to make the owner’s account and the farm.');
  if (publicUrl !== undefined) return [...lines, `People reach it at ${publicUrl}`];
  if (loopback.test(host)) {
    lines.push(
      'Only this machine reaches it so far. For the tablets of the house, stop it and start it with HOST=0.0.0.0.',
    );
  } else {
    const reached = everyAddress.has(host) ? addresses : [];
    for (const one of reached) lines.push(`Tablets on the same network open http://${one}:${port}`);
    const example = reached[0] ?? 'the-name-of-this-machine';
    lines.push(
      `Set PUBLIC_URL to the address that people use (such as http://${example}:${port}), so that links in mails and codes on tags lead there.`,
    );
  }
  return lines;
}
