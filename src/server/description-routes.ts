import type { FastifyInstance } from 'fastify';

/** The description of all routes, for programs and for the page that shows it. Made when somebody asks for the first time. */
export function descriptionRoutes(app: FastifyInstance, version: string): void {
  let made: Promise<string> | null = null;
  app.get('/api/openapi.json', { config: { needs: 'viewer' } }, async (_request, reply) => {
    made ??= import('./description/api-description.js').then(async ({ apiDescription }) => JSON.stringify(await apiDescription({ version })));
    return reply.header('content-type', 'application/json; charset=utf-8').header('cache-control', 'no-cache').send(await made);
  });
}
