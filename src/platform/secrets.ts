import { randomBytes } from 'node:crypto';
import type { PrismaClient } from '../generated/prisma/client.ts';

/** A secret the service made for itself at its first start; every instance on the database gets the same. */
export async function secretNamed(db: PrismaClient, name: string): Promise<string> {
  const fresh = randomBytes(48).toString('base64url');
  await db.$executeRaw`INSERT INTO secret (name, value) VALUES (${name}, ${fresh}) ON CONFLICT (name) DO NOTHING`;
  return (await db.secret.findUniqueOrThrow({ where: { name } })).value;
}
