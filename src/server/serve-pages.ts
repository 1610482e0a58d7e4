import { existsSync } from 'node:fs';
import { join } from 'node:path';
import fastifyStatic from '@fastify/static';
import type { FastifyInstance, FastifyReply } from 'fastify';
import type { Needs } from '../access/roles.js';

/** What must be there for somebody who is not signed in yet: the sign-in page, and scripts and styles, which tell nothing of a bench. */
const open = ['sign-in', 'assets'];

/**
 * Serves the built pages to viewers.
 * @param pages folder of the built pages (`dist/pages`)
 */
export async function servePages(app: FastifyInstance, pages: string): Promise<void> {
  for (const folder of open) {
    const root = join(pages, folder);
    if (existsSync(root)) await serveFolder(app, root, `/${folder}/`, 'anyone');
  }
  await serveFolder(app, pages, '/', 'viewer');
}

/** In a scope of its own, where each route that the plugin makes gets its role. */
async function serveFolder(app: FastifyInstance, root: string, prefix: string, needs: Needs): Promise<void> {
  await app.register(async (scope) => {
    scope.addHook('onRoute', (route) => {
      route.config = { ...route.config, needs, page: true };
    });
    await scope.register(fastifyStatic, { root, prefix, redirect: prefix === '/', cacheControl: false, setHeaders: setCaching });
  });
}

/** Files with a hash in their name never change; everything else is asked for again. */
function setCaching(reply: FastifyReply, path: string): void {
  reply.header('cache-control', /[\\/]assets[\\/]/.test(path) ? 'public, max-age=31536000, immutable' : 'no-cache');
}
