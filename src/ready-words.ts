import { isEveryAddress, isLoopback, networkAddresses } from './platform/words/addresses.ts';

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
  const { port, protocol } = new URL(address);
  const here = isEveryAddress(host) ? `${protocol}//localhost:${port}` : address;
  const lines = [`Evenwater is ready: ${here}`];
  if (!hasOwner) lines.push('Open that address in a browser to make the owner’s account and the farm.');
  if (publicUrl !== undefined) return [...lines, `People reach it at ${publicUrl}`];
  if (isLoopback(host)) {
    lines.push(
      'Only this machine reaches it so far. For the tablets of the house, stop it and start it with HOST=0.0.0.0.',
    );
  } else {
    const reached = isEveryAddress(host) ? addresses : [];
    for (const one of reached) lines.push(`Tablets on the same network open ${protocol}//${one}:${port}`);
    if (protocol === 'http:')
      lines.push(
        'Rounds survive a reload without the network only over HTTPS: npm run certificate makes what that needs.',
      );
    const example = reached[0] ?? 'the-name-of-this-machine';
    lines.push(
      `Set PUBLIC_URL to the address that people use (such as ${protocol}//${example}:${port}), so that links in mails and codes on tags lead there.`,
    );
  }
  return lines;
}
