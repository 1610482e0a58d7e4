import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { mayDo, roleWords, unnamedEngineer, type Needs, type Person } from '../access/roles.js';

declare module 'fastify' {
  interface FastifyContextConfig {
    /** The role that the route needs. A route that says nothing is for nobody once people are set up. */
    needs?: Needs;
    /** A page that a browser opens: whoever is not signed in is sent to the sign-in page, not refused. */
    page?: true;
  }
  interface FastifyRequest {
    /** Whoever makes the request; `null` while nobody is signed in. */
    person: Person | null;
  }
}

/** Tells who makes a request. */
export interface Doorkeeper {
  /** `null` where nobody is signed in. */
  personOf(request: FastifyRequest): Person | null;
}

/** Where people sign in. */
export const signInPage = '/sign-in/';

/**
 * Lets each request through or not, by the role that its route needs. Refused unless a rule says otherwise: a route
 * without `config: { needs }` is for nobody.
 * @param doorkeeper `null`: nobody is set up, and whoever can reach the server is the engineer at the bench
 */
export function guard(app: FastifyInstance, doorkeeper: Doorkeeper | null): void {
  app.decorateRequest('person', null);
  app.addHook('onRequest', async (request, reply) => {
    if (doorkeeper === null) {
      request.person = unnamedEngineer;
      return;
    }
    request.person = doorkeeper.personOf(request);
    if (!request.is404) return refusal(request, reply);
  });
}

function refusal({ routeOptions: { config }, person, method, url }: FastifyRequest, reply: FastifyReply): FastifyReply | undefined {
  const { needs } = config;
  if (needs === 'anyone') return;
  if (needs === undefined) return reply.code(403).send({ error: 'nobody may use this address: it does not say which role it needs' });
  if (person === null) {
    if (config.page === true && (method === 'GET' || method === 'HEAD')) return reply.redirect(`${signInPage}?to=${encodeURIComponent(url)}`);
    return reply.code(401).send({ error: 'sign in first' });
  }
  if (mayDo(person.role, needs)) return;
  return reply.code(403).send({ error: `this needs the role ${needs}, which ${roleWords[needs]}; ${person.name ?? 'you'} may not` });
}
