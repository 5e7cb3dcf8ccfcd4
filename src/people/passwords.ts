import { hash, verify } from '@node-rs/argon2';

/** Argon2id with the parameters of RFC 9106's second recommendation, less memory for small machines (OWASP 2024). */
const options = { memoryCost: 19_456, timeCost: 2, parallelism: 1 };

/** Shortest password taken. Length is asked for, composition is not (NIST SP 800-63B). */
export const shortestPassword = 10;

export function hashPassword(password: string): Promise<string> {
  return hash(password, options);
}

/** Compared against when there is no such account, so that the answer takes as long; made at the start, not at the first try. */
const decoy = hashPassword('nobody has this password');

/** True when the password belongs to the hash; takes its time when there is no hash at all. */
export async function passwordFits(passwordHash: string | null, password: string): Promise<boolean> {
  const fits = await verify(passwordHash ?? (await decoy), password);
  return passwordHash !== null && fits;
}
