import { createHash } from 'node:crypto';

/** A strong entity tag of an answer (RFC 9110, 8.8.3): the same bytes, the same tag. */
export const etagOf = (body: string): string =>
  `"${createHash('sha256').update(body).digest('base64url').slice(0, 27)}"`;

const listed = (header: string): string[] => header.split(',').map((one) => one.trim());

/** If-None-Match, which compares weakly (RFC 9110, 13.1.2). */
export const isUnchangedFor = (header: string, etag: string): boolean =>
  header.trim() === '*' || listed(header).some((one) => one.replace(/^W\//, '') === etag);

/** If-Match, which compares strongly: a weak tag never matches (RFC 9110, 13.1.1). */
export const isMatchedBy = (header: string, etag: string): boolean =>
  header.trim() === '*' || listed(header).includes(etag);

/**
 * Where what a write changes is read, nearest first: at the write's own address, at its form, else at the thing that its
 * address stands under ("/api/lots/:id/details": "/api/lots/:id").
 */
export function readAddresses(path: string): string[] {
  const parts = path.split('/');
  const above = parts.slice(0, -1).join('/');
  return [path, `${path}/change`, `${path}/details`, ...(parts.length > 3 ? [above] : [])];
}
