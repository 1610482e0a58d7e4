import type { FastifyInstance } from 'fastify';
import type { Health } from '../watch/health.js';

/** What the program knows of itself. */
export interface SelfKnowledge {
  health(): Health;
  metrics(): Promise<string>;
  /** Of the metrics. */
  readonly contentType: string;
}

const open = { config: { needs: 'anyone' } } as const;

/**
 * `/healthz`: 200 while every bench is watched and recorded, otherwise 503, with the reasons as JSON; `/metrics`: the text
 * format of Prometheus. Neither holds anything that must stay secret, and neither asks who wants to know: what watches
 * over a bench has no person's name.
 */
export function healthRoutes(app: FastifyInstance, self: SelfKnowledge): void {
  app.get('/healthz', open, (_request, reply) => {
    const health = self.health();
    return reply.header('cache-control', 'no-store').code(health.healthy ? 200 : 503).send(health);
  });
  app.get('/metrics', open, async (_request, reply) => reply.header('cache-control', 'no-store').type(self.contentType).send(await self.metrics()));
}
