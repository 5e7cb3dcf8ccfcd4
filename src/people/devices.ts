import { randomUUID } from 'node:crypto';
import type { FastifyReply, FastifyRequest } from 'fastify';

const cookieName = 'evenwater-device';
/** A shared tablet knows the people of a shift; the ones who signed in last are kept (own choice). */
const mostAccounts = 12;
const yearS = 365 * 24 * 3600;

/** A browser that people have signed in with before. Its cookie is signed by the service; it signs nobody in. */
export interface Device {
  id: string;
  /** The accounts that signed in with it, each with the generation of its sessions at that time. */
  accounts: readonly string[];
}

interface Enrolled {
  id: string;
  sessionGeneration: number;
}

const nameOf = ({ id, sessionGeneration }: Enrolled): string => `${id}:${sessionGeneration}`;

/** The device that asks; null for one nobody has signed in with. */
export function deviceOf(request: FastifyRequest): Device | null {
  const { valid, value } = request.unsignCookie(request.cookies[cookieName] ?? '');
  if (!valid || value === null) return null;
  const [id = '', ...accounts] = value.split('|');
  return { id, accounts };
}

/** Whether this person has signed in with the device since their password was set. */
export const isEnrolled = (device: Device | null, account: Enrolled): device is Device =>
  device?.accounts.includes(nameOf(account)) ?? false;

/** Lets the device remember that this person signed in with it. */
export function enrol(request: FastifyRequest, reply: FastifyReply, account: Enrolled): void {
  const device = deviceOf(request) ?? { id: randomUUID(), accounts: [] };
  const others = device.accounts.filter((name) => !name.startsWith(`${account.id}:`));
  const accounts = [nameOf(account), ...others].slice(0, mostAccounts);
  reply.setCookie(cookieName, [device.id, ...accounts].join('|'), {
    path: '/sign-in',
    httpOnly: true,
    sameSite: 'lax',
    secure: 'auto',
    signed: true,
    maxAge: yearS,
  });
}
