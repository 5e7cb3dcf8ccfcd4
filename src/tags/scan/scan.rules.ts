import { cardOf } from '../../science/photograph/card.ts';

/** What a scanned or typed code says. */
export type Scan =
  | Printed
  /** A printed list of lots: leads to typing it in. */
  | { what: 'list'; path: string }
  /** No address: a code or a name, to be looked up. */
  | { what: 'words'; text: string }
  /**
   * An address that is not this farm's; it is never followed. `as`: what it would say here, such as a label that was
   * printed under an earlier address; `isOwnHost`: only its scheme or port is another.
   */
  | { what: 'elsewhere'; address: string; as: Printed | null; isOwnHost: boolean };

/** What labels, signs and tags say. */
export type Printed =
  | { what: 'lot'; code: string }
  | { what: 'rack' | 'slot'; id: string }
  | { what: 'tag'; token: string };

const uuid = '[0-9a-f]{8}-(?:[0-9a-f]{4}-){3}[0-9a-f]{12}';
const paths: { what: 'lot' | 'rack' | 'slot' | 'tag'; path: RegExp }[] = [
  { what: 'lot', path: /^\/stock\/([^/]+)\/?$/ },
  { what: 'rack', path: new RegExp(`^/racks/(${uuid})/?$`, 'i') },
  { what: 'slot', path: new RegExp(`^/slots/(${uuid})/?$`, 'i') },
  { what: 'tag', path: /^\/t\/([\w-]{10,64})\/?$/ },
];

/**
 * What a text read from a code means at this farm.
 * @param origins the service's own, such as "https://farm.example.org"
 */
export function readScan(text: string, origins: readonly string[]): Scan {
  const typed = text.trim();
  if (!/^[a-z][a-z0-9+.-]*:/i.test(typed) || !URL.canParse(typed)) return { what: 'words', text: typed };
  const { origin, hostname, pathname, search } = new URL(typed);
  if (origins.includes(origin) && pathname === '/stock/paper/typing' && /^\?ticked=[\w.-]*$/.test(search))
    return { what: 'list', path: `${pathname}${search}` };
  const as = printedAt(pathname);
  if (as !== null && origins.includes(origin)) return as;
  const isOwnHost = hostname !== '' && origins.some((own) => new URL(own).hostname === hostname);
  return { what: 'elsewhere', address: typed.slice(0, 200), as, isOwnHost };
}

function printedAt(pathname: string): Printed | null {
  const card = cardOf(pathname);
  if (card !== null) return { what: 'rack', id: card.rackId };
  const [found] = paths.flatMap(({ what, path }) => {
    const said = path.exec(pathname)?.[1];
    return said === undefined ? [] : [{ what, said: decoded(said) }];
  });
  if (found === undefined) return null;
  if (found.what === 'lot') return { what: 'lot', code: found.said };
  if (found.what === 'tag') return { what: 'tag', token: found.said };
  return { what: found.what, id: found.said.toLowerCase() };
}

function decoded(text: string): string {
  try {
    return decodeURIComponent(text);
  } catch {
    return text;
  }
}
