import type { PrismaClient } from '../../generated/prisma/client.ts';
import { displayNow } from './reader-quantities.ts';
import { readersJson, readerWords } from './reader-words.ts';

const needs = { code: true, canonicalUnit: true, displayUnit: true, decimals: true } as const;

/** The client whose quantities and kept words are in the units of whoever reads, wherever they are read. */
export const readersClient = (db: PrismaClient): PrismaClient =>
  db.$extends({
    result: {
      quantity: {
        decimals: { needs, compute: (quantity) => displayNow(quantity).decimals },
        displayUnit: { needs, compute: (quantity) => displayNow(quantity).displayUnit },
      },
      alert: {
        title: { needs: { title: true }, compute: ({ title }) => readerWords(title) },
        finding: { needs: { finding: true }, compute: ({ finding }) => readersJson(finding) },
      },
      alertEvent: { detail: { needs: { detail: true }, compute: ({ detail }) => readersJson(detail) } },
      digest: { content: { needs: { content: true }, compute: ({ content }) => readersJson(content) } },
      journalLine: { detail: { needs: { detail: true }, compute: ({ detail }) => readersJson(detail) } },
    },
  }) as unknown as PrismaClient;
