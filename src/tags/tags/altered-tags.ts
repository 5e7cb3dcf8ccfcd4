import type { PrismaClient } from '../../generated/prisma/client.ts';
import { everyTag, isUnchanged } from '../record/signing.ts';

/** Every tag whose record is not what the farm signed, each in a sentence. */
export async function alteredTags(db: PrismaClient): Promise<string[]> {
  const faults: string[] = [];
  for await (const { id, record, signature } of everyTag(db))
    if (!(await isUnchanged(db, record, signature))) faults.push(`Tag ${id} is not what was signed.`);
  return faults;
}
