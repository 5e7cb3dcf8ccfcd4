import { BlockList, isIP } from 'node:net';

/** Networks out of a setting: "10.0.0.0/8,fc00::/7", which are private ones (RFC 1918, RFC 4193); "none" for none. */
export function networksOf(text: string): BlockList {
  const networks = new BlockList();
  if (text.trim() === 'none') return networks;
  for (const one of text.split(',')) {
    const [address = '', length] = one.trim().split('/');
    const version = isIP(address) === 6 ? 'ipv6' : 'ipv4';
    networks.addSubnet(address, Number(length ?? (version === 'ipv6' ? 128 : 32)), version);
  }
  return networks;
}

/** What is no part of the public internet, by the registries of special addresses (RFC 6890); IPv6 besides is 2000::/3. */
const special = networksOf(
  [
    ...['0.0.0.0/8', '10.0.0.0/8', '100.64.0.0/10', '127.0.0.0/8', '169.254.0.0/16', '172.16.0.0/12'],
    ...['192.0.0.0/24', '192.0.2.0/24', '192.88.99.0/24', '192.168.0.0/16', '198.18.0.0/15'],
    ...['198.51.100.0/24', '203.0.113.0/24', '224.0.0.0/4', '240.0.0.0/4'],
    // Addresses that carry another within (Teredo, 6to4), and those of examples.
    ...['2001::/23', '2001:db8::/32', '2002::/16', '3fff::/20'],
  ].join(','),
);
const globalUnicast = networksOf('2000::/3');

const mapped = /^::ffff:(\d+\.\d+\.\d+\.\d+)$/i;

/** Where an IP address is: in a network of the house, on the public internet, or where nothing is sent. */
export function placeOf(address: string, house: BlockList): 'house' | 'public' | 'closed' {
  const plain = mapped.exec(address)?.[1] ?? address;
  const version = isIP(plain);
  if (version === 0) return 'closed';
  const family = version === 6 ? 'ipv6' : 'ipv4';
  if (house.check(plain, family)) return 'house';
  if (special.check(plain, family)) return 'closed';
  return version === 4 || globalUnicast.check(plain, 'ipv6') ? 'public' : 'closed';
}

/** The host of an address as it is looked up: without the brackets of IPv6. */
export const hostOf = (url: URL): string => url.hostname.replace(/^\[|\]$/g, '');

/**
 * Why nothing is sent to an IP address that a webhook's name stands for; null where it may be.
 * The own machine, the network's own services and what only seems public are out of reach, so that nobody who may enter an
 * address can have the service ask for what it alone can see.
 */
export function faultOfPlace(url: URL, address: string, house: BlockList): string | null {
  const place = placeOf(address, house);
  if (place === 'closed')
    return `${address} is not called: it is neither in a network of the house nor on the public internet.`;
  if (place === 'public' && url.protocol === 'http:')
    return 'Use https:// here. http:// is for addresses in the house alone: on the way through the internet everybody could read along.';
  return null;
}

/** What is wrong with an address as it was typed; null where nothing is. What its name stands for is looked up when it is called. */
export function faultOfAddress(text: string, house: BlockList): string | null {
  const url = URL.canParse(text) ? new URL(text) : null;
  if (url === null || !/^https?:$/.test(url.protocol) || !/^https?:\/\//i.test(text))
    return 'Enter a whole address: https://receiver.example.org/alerts.';
  if (url.username !== '' || url.password !== '')
    return 'Leave name and password out. What is sent is signed, and the receiver checks that.';
  if (url.hash !== '') return 'Leave out the # and what follows: it is not sent.';
  const host = hostOf(url);
  return isIP(host) === 0 ? null : faultOfPlace(url, host, house);
}
