import { mostRows, usualRows } from '../lists/lists.api.ts';
import type { JsonSchema } from './body-schemas.ts';

/** What every page of a list takes. */
export const pageParameters = ['Limit', 'Cursor', 'IfNoneMatch'].map((name) => ({
  $ref: `#/components/parameters/${name}`,
}));

/** What the operations of the document share. */
export const parts: JsonSchema = {
  securitySchemes: {
    key: { type: 'http', scheme: 'bearer', description: 'An access key, made under People, Access keys.' },
    session: { type: 'apiKey', in: 'cookie', name: 'evenwater', description: 'Somebody who is signed in.' },
  },
  parameters: {
    IdempotencyKey: {
      ...{ name: 'Idempotency-Key', in: 'header' },
      description:
        'A UUID of your own: new for each request, the same for its repeats. A request with an access key needs one.',
      schema: { type: 'string', format: 'uuid' },
      example: '0197f3c2-6c1e-7d3a-9a50-2f6f1c9a4e11',
    },
    IfMatch: {
      ...{ name: 'If-Match', in: 'header' },
      description: 'The ETag of what is changed, as it was read. Without it the body names the version.',
      schema: { type: 'string' },
    },
    Limit: {
      ...{ name: 'limit', in: 'query' },
      description: 'Rows of a page at most.',
      schema: { type: 'integer', minimum: 1, maximum: mostRows, default: usualRows },
    },
    Cursor: {
      ...{ name: 'cursor', in: 'query' },
      description: '“next” of the page before, as it is; without it the list begins.',
      schema: { type: 'string' },
    },
    IfNoneMatch: {
      ...{ name: 'If-None-Match', in: 'header' },
      description: 'An ETag that is known: 304 where nothing has changed.',
      schema: { type: 'string' },
    },
  },
  headers: {
    ETag: { description: 'A strong entity tag of the answer.', schema: { type: 'string' } },
    RateLimit: {
      description: 'What is left of the minute: `"minute";r=5999;t=31`.',
      schema: { type: 'string' },
    },
  },
  schemas: {
    Done: {
      type: 'object',
      description: 'What was made or changed.',
      required: ['id', 'code', 'page', 'notice'],
      properties: {
        id: {
          type: ['string', 'null'],
          format: 'uuid',
          description: 'Its id; null where it has none of its own.',
        },
        code: { type: ['string', 'null'], description: 'The code of a lot.' },
        page: { type: 'string', description: 'The page on which a person sees it.' },
        notice: { type: ['string', 'null'], description: 'What a person would be told.' },
        undo: { type: 'string', description: 'Where a post takes it back.' },
      },
      example: {
        id: '01931f0e-6c1e-7d3a-9a50-2f6f1c9a4e11',
        code: null,
        page: '/farm',
        notice: 'Tank 5 is added.',
      },
    },
    FormValues: {
      type: 'object',
      description: 'What a form holds now: change what you want to change, and send it back.',
      required: ['title', 'values', 'version', 'seen'],
      properties: {
        title: { type: 'string' },
        values: {
          type: 'object',
          additionalProperties: { anyOf: [{ type: 'string' }, { type: 'array', items: { type: 'string' } }] },
          description: 'The fields as the write takes them.',
        },
        version: { type: ['integer', 'null'], description: 'Goes back as "version", where one is counted.' },
        seen: { type: ['string', 'null'], description: 'Goes back as "seen", where no version is counted.' },
        agreed: { type: 'string', description: 'Goes back as "agreed" with a change of several lots.' },
      },
      example: { title: 'Tank 5', values: { name: 'Tank 5', lengthMm: '120' }, version: 3, seen: null },
    },
    Answer: { type: 'object', additionalProperties: true, description: 'What the summary says, by name.' },
    Problem: {
      type: 'object',
      description: 'Problem details (RFC 9457).',
      required: ['type', 'title', 'status', 'detail', 'instance'],
      properties: {
        type: { type: 'string' },
        title: { type: 'string' },
        status: { type: 'integer' },
        detail: { type: 'string', description: 'What is wrong, and what to do.' },
        instance: { type: 'string' },
        errors: {
          type: 'array',
          description: 'Every field that was refused.',
          items: {
            type: 'object',
            required: ['field', 'message'],
            properties: { field: { type: 'string' }, message: { type: 'string' } },
          },
        },
        reference: {
          type: 'string',
          description: 'The id of the request in the log, where the service failed.',
        },
      },
      example: {
        type: 'about:blank',
        title: 'Unprocessable Entity',
        status: 422,
        detail: 'Enter a name.',
        instance: '/api/v1/farm/tanks/01931f0e-6c1e-7d3a-9a50-2f6f1c9a4e11',
        errors: [{ field: 'name', message: 'Enter a name.' }],
      },
    },
  },
};

const problems: Readonly<Record<string, string>> = {
  400: 'It cannot be read, or lacks its Idempotency-Key.',
  401: 'Nobody is signed in, or the key is not known.',
  403: 'The role or the scope does not reach that far.',
  404: 'It is not there.',
  409: 'Something else came before it.',
  412: 'It was changed since it was read (If-Match).',
  422: 'Fields were refused; or the Idempotency-Key stood for another request.',
  428: 'Read first: neither If-Match nor a version says what was read.',
  429: 'The key has made its requests of this minute.',
};

const ofReads = new Set(['401', '403', '404', '429']);

const schemas = { made: 'Answer', read: 'Answer', done: 'Done', form: 'FormValues' } as const;

/** What is refused, as the answer of an operation. */
export const problem = (description: string) => ({
  description,
  content: { 'application/problem+json': { schema: { $ref: '#/components/schemas/Problem' } } },
});

/** The answers of an operation: made by a route for programs or by a form, read from either. */
export function responses(
  kind: keyof typeof schemas,
  schema: JsonSchema = { $ref: `#/components/schemas/${schemas[kind]}` },
): JsonSchema {
  const isRead = kind === 'read' || kind === 'form';
  const headers = {
    RateLimit: { $ref: '#/components/headers/RateLimit' },
    ...(isRead ? { ETag: { $ref: '#/components/headers/ETag' } } : {}),
  };
  const content = { 'application/json': { schema } };
  return {
    200: { description: isRead ? 'What was asked for.' : 'Done.', headers, content },
    ...(isRead
      ? { 304: { description: 'Nothing has changed.' } }
      : { 201: { description: 'Made.', headers, content } }),
    ...Object.fromEntries(
      Object.entries(problems)
        .filter(([status]) => !isRead || ofReads.has(status))
        .map(([status, words]) => [status, problem(words)]),
    ),
  };
}
