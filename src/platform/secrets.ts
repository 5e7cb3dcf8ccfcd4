import { randomBytes } from 'node:crypto';
import type { PrismaClient } from '../generated/prisma/client.ts';

const randomText = () => randomBytes(48).toString('base64url');

/**
 * A secret the service made for itself when it was first asked for; every instance on the database gets the same.
 * @param make what a new one is; a random text when left out
 */
export async function secretNamed(
  db: PrismaClient,
  name: string,
  make: () => string | Promise<string> = randomText,
): Promise<string> {
  const kept = await db.secret.findUnique({ where: { name } });
  if (kept !== null) return kept.value;
  const fresh = await make();
  await db.$executeRaw`INSERT INTO secret (name, value) VALUES (${name}, ${fresh}) ON CONFLICT (name) DO NOTHING`;
  return (await db.secret.findUniqueOrThrow({ where: { name } })).value;
}
