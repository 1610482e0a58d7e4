import fastify from 'fastify';
import { FrontDoor } from '../../access/front-door.js';
import type { Needs } from '../../access/roles.js';
import { Access } from '../access.js';
import { accessRoutes } from '../access-routes.js';
import { auditRoutes } from '../audit-routes.js';
import { benchRoutes } from '../bench-routes.js';
import { compareRoutes } from '../compare-routes.js';
import { healthRoutes, type SelfKnowledge } from '../health-routes.js';
import { historyRoutes } from '../history-routes.js';
import { labelRoutes } from '../label-routes.js';
import { libraryRoutes } from '../library-routes.js';
import { operatorRoutes } from '../operator-routes.js';
import { tuningRoutes } from '../tuning-routes.js';

/** A route as it was made. */
export interface KnownRoute {
  readonly method: string;
  readonly url: string;
  readonly needs: Needs | undefined;
}

/** The pages themselves and what is beside them: they are made with the server, from files. */
const withTheServer: readonly KnownRoute[] = [
  { method: 'GET', url: '/', needs: 'anyone' },
  { method: 'GET', url: '/sign-in/*', needs: 'anyone' },
  { method: 'GET', url: '/assets/*', needs: 'anyone' },
  { method: 'GET', url: '/*', needs: 'viewer' },
  { method: 'GET', url: '/api/openapi.json', needs: 'viewer' },
];

/** Never asked: no request reaches these routes. */
const nobody: SelfKnowledge = { health: () => ({ healthy: false, reasons: [], benches: [], late_s: 0 }), metrics: () => Promise.resolve(''), contentType: 'text/plain' };

/** Every route that a daemon has and the role that each needs, from the very functions that make them, for no bench at all. */
export async function knownRoutes(): Promise<readonly KnownRoute[]> {
  const routes: KnownRoute[] = [];
  const app = fastify();
  app.addHook('onRoute', ({ method, url, config }) => {
    for (const one of [method].flat()) if (one !== 'HEAD') routes.push({ method: one, url, needs: config?.needs });
  });
  await accessRoutes(app, new Access(new FrontDoor({ people: [] }), '', false));
  benchRoutes(app, []);
  healthRoutes(app, nobody);
  operatorRoutes(app, []);
  libraryRoutes(app, []);
  auditRoutes(app, []);
  historyRoutes(app, []);
  tuningRoutes(app, []);
  labelRoutes(app, []);
  compareRoutes(app, []);
  await app.close();
  return [...routes, ...withTheServer];
}
