import type { FastifyInstance } from 'fastify';
import { certificateRoutes } from './certificate-routes.js';
import { entryRoutes } from './entry-routes.js';
import { jobRoutes } from './job-routes.js';
import type { OperatorDesk } from './operator-desk.js';

/** Everything that an operator does before, during and after a run. */
export function operatorRoutes(app: FastifyInstance, desks: readonly OperatorDesk[]): void {
  jobRoutes(app, desks);
  entryRoutes(app, desks);
  certificateRoutes(app, desks);
}
