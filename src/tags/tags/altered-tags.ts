import type { PrismaClient } from '../../generated/prisma/client.ts';
import { isUnchanged } from '../record/signing.ts';

/** Tags are read in pieces of this many. */
const pieceOf = 200;

/** Every tag whose record is not what the farm signed, each in a sentence. */
export async function alteredTags(db: PrismaClient): Promise<string[]> {
  const faults: string[] = [];
  for (let after: string | undefined; ; ) {
    const tags = await db.tag.findMany({
      select: { id: true, record: true, signature: true },
      orderBy: { id: 'asc' },
      take: pieceOf,
      ...(after === undefined ? {} : { cursor: { id: after }, skip: 1 }),
    });
    for (const { id, record, signature } of tags)
      if (!(await isUnchanged(db, record, signature))) faults.push(`Tag ${id} is not what was signed.`);
    after = tags.at(-1)?.id;
    if (tags.length < pieceOf) return faults;
  }
}
