import { createHash } from 'node:crypto';

/** What an entity tag says: which answer it was, and when it was read. */
export interface Tag {
  hash: string;
  moment: Date;
}

/**
 * A sign of an answer's words. Left out is the token of forms, which is drawn anew for each answer and is as good as the one
 * before.
 */
export const hashOf = (body: string): string =>
  createHash('sha256')
    .update(body.replace(/"csrf":"[^"]*"/, ''))
    .digest('base64url')
    .slice(0, 27);

/** A strong entity tag (RFC 9110, 8.8.3). The moment is in it, so that the same can be asked by the same clock. */
export const etagOf = ({ hash, moment }: Tag): string => `"${hash}.${moment.getTime().toString(36)}"`;

/** Null where the text is no strong tag of ours: a weak one never matches in If-Match (RFC 9110, 13.1.1). */
export function readTag(text: string): Tag | null {
  const [, hash, time] = /^"([\w-]{27})\.([0-9a-z]{1,10})"$/.exec(text) ?? [];
  return hash === undefined || time === undefined
    ? null
    : { hash, moment: new Date(Number.parseInt(time, 36)) };
}

/** The tags of If-Match, more than anybody sends left out (own choice); '*' apart. */
export const tagsOf = (header: string): Tag[] =>
  listed(header)
    .slice(0, 5)
    .map(readTag)
    .filter((tag) => tag !== null);

export const isAny = (header: string): boolean => header.trim() === '*';

const listed = (header: string): string[] => header.split(',').map((one) => one.trim());

/** If-None-Match, which compares weakly (RFC 9110, 13.1.2): the same words, whenever they were read. */
export const isUnchangedFor = (header: string, { hash }: Tag): boolean =>
  isAny(header) || listed(header).some((one) => readTag(one.replace(/^W\//, ''))?.hash === hash);

/**
 * Where what a write changes is read, nearest first: at the write's own address, at its form, else at the thing that its
 * address stands under ("/api/lots/:id/details": "/api/lots/:id").
 */
export function readAddresses(path: string): string[] {
  const parts = path.split('/');
  const above = parts.slice(0, -1).join('/');
  return [path, `${path}/change`, `${path}/details`, ...(parts.length > 3 ? [above] : [])];
}
