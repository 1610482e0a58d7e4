import fastifyCookie from '@fastify/cookie';
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { longestName } from '../access/people.js';
import { longestSecret } from '../access/secret-rules.js';
import type { Access } from './access.js';
import { machineOf } from './machine-of.js';

/** Who signs in. */
export const signInBody = z.strictObject({ name: z.string().min(1).max(longestName), secret: z.string().min(1).max(longestSecret) });

const open = { config: { needs: 'anyone' } } as const;

/** Signing in and out, and who one is. @param access `null`: nobody is set up, and nobody needs to sign in */
export async function accessRoutes(app: FastifyInstance, access: Access | null): Promise<void> {
  app.get('/api/me', open, (request, reply) => reply.header('cache-control', 'no-store').send({ signIn: access !== null, person: request.person }));
  if (access === null) return;
  await app.register(fastifyCookie);

  app.post('/api/sign-in', { ...open, bodyLimit: 2048 }, (request, reply) => signIn(access, request, reply));

  app.post('/api/sign-out', open, (request, reply) => {
    const id = access.idIn(request.headers.cookie);
    if (id !== null) access.door.signOut(id);
    access.takeAway(reply);
    return reply.header('cache-control', 'no-store').send({ signIn: true, person: null });
  });
}

/** What is wrong is never told more exactly than this: neither which names there are nor how near a guess was. */
async function signIn(access: Access, request: FastifyRequest, reply: FastifyReply): Promise<FastifyReply> {
  void reply.header('cache-control', 'no-store');
  const found = signInBody.safeParse(request.body);
  if (!found.success) return reply.code(400).send({ error: 'give a name and a PIN or pass phrase' });
  const { name, secret } = found.data;
  const answer = await access.door.signIn(name, secret, machineOf(request.ip));
  switch (answer.is) {
    case 'in': {
      // Whoever was signed in at this screen no longer is.
      const before = access.idIn(request.headers.cookie);
      if (before !== null) access.door.signOut(before);
      access.give(reply, answer.id, answer.lasts);
      return reply.send({ signIn: true, person: answer.person });
    }
    case 'wrong':
      return reply.code(401).send({ error: 'the name, or the PIN or pass phrase, is not right' });
    case 'wait':
      return reply.code(429).header('retry-after', String(answer.seconds)).send({ error: `tried too often; try again in ${answer.seconds} s` });
    case 'busy':
      return reply.code(503).header('retry-after', '5').send({ error: 'too many are signing in at this moment; try again in 5 s' });
  }
}
