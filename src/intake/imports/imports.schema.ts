import { z } from 'zod';
import { text } from '../../platform/web/fields.ts';
import type { Answers } from '../file/questions.rules.ts';

/** The largest file that is taken, in bytes. */
export const largestFile = 8 * 1024 * 1024;

/** Why a file's readings are taken back. */
export const importWithdrawalSchema = z.object({ reason: text('why its readings do not count', 500) });

/**
 * Answers about a file, by the question's id. A field that still has what the page showed in it (`was-<id>`) is no
 * answer: a guess stays a guess.
 */
export const answersSchema = z
  .record(
    z.string().max(300),
    z.union([z.string(), z.array(z.string()).transform((all) => all.at(-1) ?? '')]),
  )
  .transform((typed): Answers => {
    const { _csrf, _key, ...fields } = typed;
    const answered = Object.entries(fields).filter(
      ([id, answer]) => !id.startsWith('was-') && fields[`was-${id}`] !== answer,
    );
    return Object.fromEntries(answered.map(([id, answer]) => [id, answer.trim().slice(0, 200)]));
  });
