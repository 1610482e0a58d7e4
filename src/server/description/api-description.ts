import type { z } from 'zod';
import { roleWords, type Needs } from '../../access/roles.js';
import { benchAddress } from '../bench-routes.js';
import { namedSchemas, schemaOfAnswer, schemaOfInput, type Json, type JsonObject, type Strictness } from './json-schemas.js';
import { knownRoutes, type KnownRoute } from './known-routes.js';
import { libraryOperations } from './library-operations.js';
import { liveWords } from './live-words.js';
import { refusal } from './named-shapes.js';
import { areas, type Operation, type Operations, type Reply } from './operation.js';
import { runOperations } from './run-operations.js';
import { settingOperations } from './setting-operations.js';
import { watchingOperations } from './watching-operations.js';

/** What each route does, takes and gives, by method and address. A new route needs its line. */
export const operations: Operations = { ...watchingOperations, ...runOperations, ...settingOperations, ...libraryOperations };

/** Address of a route as OpenAPI writes it: `/api/benches/{bench}`. */
export const pathOf = (url: string): string => url.replaceAll(/:([a-zA-Z0-9]+)/g, '{$1}').replace('*', '{file}');

export interface DescriptionOptions {
  readonly version: string;
  readonly strictness?: Strictness;
}

/** The HTTP interface of a daemon as OpenAPI 3.1 has it, made of the routes that there are and the schemas that check what they take. */
export async function apiDescription({ version, strictness = 'open' }: DescriptionOptions): Promise<JsonObject> {
  const paths: Record<string, Record<string, Json>> = {};
  for (const route of await knownRoutes()) {
    const operation = operations[`${route.method} ${route.url}`];
    if (operation !== undefined) (paths[pathOf(route.url)] ??= {})[route.method.toLowerCase()] = written(route, operation, strictness);
  }
  paths['/live/socket'] = { get: liveSocket };
  return {
    openapi: '3.1.1',
    info: { title: 'Dwellkeeper', version, summary: 'Everything that the pages of a Dwellkeeper daemon use', description: about, license: { name: 'MIT', identifier: 'MIT' } },
    jsonSchemaDialect: 'https://json-schema.org/draft/2020-12/schema',
    servers: [{ url: '/', description: 'The daemon that serves this description; by itself it listens on 127.0.0.1:8460' }],
    tags: Object.entries(areas).map(([name, description]) => ({ name, description })),
    paths,
    components: { schemas: namedSchemas(strictness), securitySchemes: { session } },
  };
}

const session: JsonObject = {
  type: 'apiKey', in: 'cookie', name: 'dwellkeeper-xxxxxxxx',
  description: 'The cookie that POST /api/sign-in sets. Its name ends in eight hex digits of the bench and begins with __Host- over TLS. At a bench for which nobody is set up no session is needed.',
};

const about = `Dwellkeeper watches and judges; it never drives the pump and is no safety device. Nothing in this interface can move the bench.

Pressures are in bar and times in s on the trace's own clock unless a field says otherwise; \`wall\` is ms since 1970-01-01T00:00Z. What could not be measured is \`null\`, never 0. Later versions may add fields, never change these.

Bodies are JSON (\`content-type: application/json\`). A refusal is \`{"error": SENTENCE}\`, with \`problems\` where fields must be corrected. The server answers only to names that it goes by (header Host) and, where a browser names its page (Origin), only to its own.

Roles, each with all that the ones before it may do: ${Object.entries(roleWords).map(([role, words]) => `${role} ${words}`).join('; ')}. At a bench for which nobody is set up, whoever can reach the server is its engineer.`;

function written({ url, needs }: KnownRoute, operation: Operation, strictness: Strictness): JsonObject {
  const { area, does, more, params = {}, query, without = [], body, answers } = operation;
  const named: Readonly<Record<string, z.ZodType>> = { ...benchAddress.shape, ...params };
  const inPath = [...pathOf(url).matchAll(/\{(\w+)\}/g)].map(([, name = '']): JsonObject => {
    const schema = named[name];
    return { name, in: 'path', required: true, schema: schema === undefined ? { type: 'string' } : schemaOfInput(schema) };
  });
  const inQuery = query === undefined ? [] : queryParameters(schemaOfInput(query), without);
  return {
    tags: [area], summary: does, description: [more, needsWords(needs)].filter(Boolean).join(' '),
    ...(needs !== undefined && { 'x-needs': needs }),
    security: needs === 'anyone' ? [] : [{ session: [] }, {}],
    ...(inPath.length + inQuery.length > 0 && { parameters: [...inPath, ...inQuery] }),
    ...(body && { requestBody: { required: true, content: { 'application/json': { schema: schemaOfInput(body) } } } }),
    responses: Object.fromEntries(Object.entries(withUsual(url, needs, answers, body !== undefined)).map(([status, reply]) => [status, response(Number(status), reply, strictness)])),
  };
}

const needsWords = (needs: Needs | undefined): string => (needs === 'anyone' || needs === undefined ? 'For anyone.' : `Needs the role ${needs}.`);

/** The parameters of a query; of several ways to ask, all of them, needed only where every way needs them. */
function queryParameters(schema: JsonObject, without: readonly string[]): JsonObject[] {
  const ways = (Array.isArray(schema['anyOf']) ? schema['anyOf'] : [schema]) as readonly JsonObject[];
  const all = new Map(ways.flatMap((way) => Object.entries((way['properties'] ?? {}) as JsonObject)));
  return [...all]
    .filter(([name]) => !without.includes(name))
    .map(([name, found]) => {
      const { description, ...rest } = found as JsonObject;
      const required = ways.every((way) => ((way['required'] ?? []) as readonly Json[]).includes(name));
      return { name, in: 'query', required, schema: rest, ...(description !== undefined && { description }) };
    });
}

/** Answers that come of the server itself beside those of the route. */
function withUsual(url: string, needs: Needs | undefined, answers: Operation['answers'], hasBody: boolean): Operation['answers'] {
  return {
    ...(url.includes(':bench') && { 404: { words: 'No bench of that name is running here' } }),
    ...(hasBody && { 400: { words: 'The body is no JSON' }, 413: { words: 'The body is too long' }, 415: { words: 'The body is not application/json' } }),
    ...(needs !== 'anyone' && { 401: { words: 'Nobody is signed in' } }),
    403: { words: needs === 'anyone' ? 'The server does not go by that name, or the page is not its own' : 'The role is not enough; or the server does not go by that name' },
    429: { words: 'Too many requests from this address' },
    ...answers,
  };
}

function response(status: number, { words, shape, type }: Reply, strictness: Strictness): JsonObject {
  const of = shape ?? (status >= 400 ? refusal : undefined);
  if (of === undefined && type === undefined) return { description: words };
  return { description: words, content: { [type ?? 'application/json']: of === undefined ? {} : { schema: schemaOfAnswer(of, strictness) } } };
}

const liveSocket: JsonObject = {
  tags: ['The bench now'], summary: 'Live data of a bench, as a WebSocket', description: liveWords, 'x-needs': 'viewer', security: [{ session: [] }, {}],
  parameters: [{ name: 'bench', in: 'query', required: true, schema: { type: 'string' }, description: 'name of the bench' }],
  responses: { 101: { description: 'The connection is a WebSocket from here on' }, 401: { description: 'Nobody is signed in' }, 403: { description: 'The page is not of this server' }, 404: { description: 'No bench of that name' }, 503: { description: 'Too many watch already' } },
};
