import type { FastifyReply, FastifyRequest } from 'fastify';
import { uuidv7 } from 'uuidv7';
import { z } from 'zod';
import type { Work } from '../change.ts';
import { isByDoor } from '../door/addresses.ts';
import { madeBy } from '../door/answers.ts';
import { Refusal, SentBefore } from '../refusal.ts';
import { holdToStanding, type Standing, seenIn } from '../seen.ts';
import { fieldErrors } from '../views/field-errors.ts';
import type { FieldError } from '../views/page.ts';
import { tooLargeFile } from './files.ts';
import { checked, requiredSeen } from './json.ts';

/** A form as a page draws it: what was typed, what was refused, the key under which it is sent once. */
export interface FormState {
  typed: Record<string, string | string[]>;
  errors: FieldError[];
  key: string;
}

/** A form nobody has filled in yet, or one filled in with what is there now. */
export function freshForm(values: Record<string, unknown> = {}): FormState {
  const typed = Object.fromEntries(
    Object.entries(values).map(([name, value]) => [
      name,
      value === null || value === undefined ? '' : String(value),
    ]),
  );
  return { typed, errors: [], key: uuidv7() };
}

/** A form that comes back: everything as typed, under the same key. */
export function refusedForm(body: unknown, errors: FieldError[]): FormState {
  const { _csrf, _key, _site, _units, ...sent } = (body ?? {}) as Record<string, unknown>;
  const typed = Object.fromEntries(Object.entries(sent).map(([name, value]) => [name, asText(value)]));
  return { typed: emptyWhereMissing(typed), errors, key: z.uuid().safeParse(_key).data ?? uuidv7() };
}

/**
 * The same after a refusal. A form that went back, was changed and sent again comes under a new key: sent once more, it is
 * saved besides.
 */
export function formRefusedBy(body: unknown, refusal: Refusal): FormState {
  if (!(refusal instanceof SentBefore)) return refusedForm(body, refusal.fields);
  const message =
    'This form was saved before, with other entries. What is entered here now is not saved: send it once more to save it besides.';
  return { ...refusedForm(body, [{ field: '', message }]), key: uuidv7() };
}

/** What a field holds: text, or several. A program can send anything; what no field could hold is drawn as nothing. */
function asText(value: unknown): string {
  if (Array.isArray(value)) return value.filter((one) => typeof one === 'string') as unknown as string;
  return typeof value === 'object' ? '' : String(value);
}

/** What was typed, with nothing in every field that was not sent at all, so that the form can be drawn again. */
export function emptyWhereMissing<Typed extends FormState['typed']>(typed: Typed): Typed {
  const empty = { value: '', writable: true, enumerable: true, configurable: true };
  const isField = (name: string | symbol) => typeof name === 'string' && !(name in Object.prototype);
  return new Proxy(typed, {
    has: (target, name) => name in target || isField(name),
    get: (target, name) => Reflect.get(target, name) ?? (isField(name) ? '' : undefined),
    getOwnPropertyDescriptor: (target, name) =>
      Reflect.getOwnPropertyDescriptor(target, name) ?? (isField(name) ? empty : undefined),
  });
}

interface Submission<S extends z.ZodType, R> {
  schema: S;
  /** What the change writes over: the form is held to what it was drawn from. */
  over?: Standing;
  /** Makes the change. */
  act(work: Work, value: z.output<S>): Promise<R>;
  /**
   * Where to go afterwards, and the one sentence said there; `undo`: where a post takes it back, for what is not undone
   * row by row.
   */
  done(result: R, value: z.output<S>): { to: string; notice?: string; undo?: string };
  /** Draws the form again (the reply already has its status). */
  again(form: FormState): unknown;
}

/**
 * Handles a posted form: check, change, 303. A refused form is drawn again by the same page with everything as it was
 * typed, the messages beside the fields and a 422 (409 for a stale edit or a clash).
 */
export async function submit<S extends z.ZodType, R>(
  request: FastifyRequest,
  reply: FastifyReply,
  form: Submission<S, R>,
): Promise<unknown> {
  const large = tooLargeFile(request);
  if (large !== null && isByDoor(request))
    throw new Refusal(large.message, { status: 413, field: large.field });
  if (isByDoor(request)) return submitByDoor(request, reply, form);
  if (large !== null) {
    reply.status(413);
    return form.again(refusedForm(request.body, [large]));
  }
  const parsed = form.schema.safeParse(request.body ?? {});
  if (!parsed.success) {
    reply.status(422);
    return form.again(refusedForm(request.body, fieldErrors(parsed.error)));
  }
  try {
    const result = await request.change(async (work) => {
      if (form.over !== undefined) await holdToStanding(work, seenIn(request.body), form.over);
      return form.act(work, parsed.data);
    });
    const { to, notice, undo } = form.done(result, parsed.data);
    if (notice !== undefined) request.session.set('notice', notice);
    if (undo !== undefined) request.session.set('undo', undo);
    return reply.redirect(to, 303);
  } catch (error) {
    if (!(error instanceof Refusal) || error.status === 404 || error.status === 403) throw error;
    reply.status(error.status);
    return form.again(formRefusedBy(request.body, error));
  }
}

/**
 * The same for a program: problem details with every field that was refused, else what was made and where it is read.
 * @throws Refusal
 */
async function submitByDoor<S extends z.ZodType, R>(
  request: FastifyRequest,
  reply: FastifyReply,
  form: Submission<S, R>,
): Promise<unknown> {
  const { over } = form;
  const value = checked(form.schema, request.body);
  const seen = over === undefined ? '' : requiredSeen(request.body);
  const result = await request.change(async (work) => {
    if (over !== undefined) await holdToStanding(work, seen, over);
    return form.act(work, value);
  });
  const { to, notice = null, undo } = form.done(result, value);
  const made = madeBy(result);
  const isNew = made.id !== null && !request.url.includes(made.id);
  return reply
    .status(isNew ? 201 : 200)
    .send({ ...made, page: to, notice, ...(undo === undefined ? {} : { undo }) });
}

/**
 * Makes a change that gives a secret. The secret is in the answer and is not kept with the request's key, so that the same
 * request again does not give it again.
 * @throws Refusal 409 where the request was made before
 */
export async function changeForSecret(
  request: FastifyRequest,
  act: (work: Work) => Promise<{ id: string; secret: string }>,
): Promise<{ id: string; secret: string }> {
  let shown: string | null = null;
  const id = await request.change(async (work) => {
    const made = await act(work);
    shown = made.secret;
    return made.id;
  });
  if (shown === null)
    throw new Refusal(
      'This was made already, and its secret was shown then. Where nobody has it, end it and make another.',
      { status: 409 },
    );
  return { id, secret: shown };
}
