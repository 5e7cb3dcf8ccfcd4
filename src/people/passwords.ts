import { hash, verify } from '@node-rs/argon2';

/** Argon2id with the parameters of RFC 9106's second recommendation, less memory for small machines (OWASP 2024). */
const options = { memoryCost: 19_456, timeCost: 2, parallelism: 1 };

/** Shortest password taken. Length is asked for, composition is not (NIST SP 800-63B). */
export const shortestPassword = 10;

export function hashPassword(password: string): Promise<string> {
  return hash(password, options);
}

/** Of a password that was thrown away; nobody has it. */
const decoy =
  '$argon2id$v=19$m=19456,t=2,p=1$MYqjwohIrlHhzNWr3NEPkQ$Y7I/duV45JnukgdKURACkqAKq/qVBWh57BRGoxzzsAw';

/** What a password is compared with: where there is no such account, a hash that costs the same, so that the answer takes as long. */
export const hashToCompare = (passwordHash: string | null): string => passwordHash ?? decoy;

/** True when the password belongs to the hash; takes its time when there is no hash at all. */
export async function passwordFits(passwordHash: string | null, password: string): Promise<boolean> {
  const fits = await verify(hashToCompare(passwordHash), password);
  return passwordHash !== null && fits;
}
