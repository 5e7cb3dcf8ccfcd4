import type { PrismaClient } from '../../src/generated/prisma/client.ts';

/** A new site of an invented farm that pages are about from now on: they show the oldest one. */
export async function newSite(db: PrismaClient, name = 'Saltgate Yard'): Promise<{ id: string }> {
  const oldest = await db.site.findFirst({ orderBy: { createdAt: 'asc' }, select: { createdAt: true } });
  const before = oldest === null ? {} : { createdAt: new Date(oldest.createdAt.getTime() - 1) };
  return db.site.create({ data: { name, timeZone: 'Europe/Lisbon', ...before } });
}
