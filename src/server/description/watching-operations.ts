import { z } from 'zod';
import { signInBody } from '../access-routes.js';
import { benchAddress, envelopeQuery, recentQuery } from '../bench-routes.js';
import { benchLine, envelope, health, me, runSummary } from './bench-shapes.js';
import type { Operations } from './operation.js';

/** Who is there, the bench at this moment, what watches over it, and the pages. */
export const watchingOperations: Operations = {
  'GET /api/me': { area: 'Who is there', does: 'Tells who is signed in', answers: { 200: { words: 'Who it is; null while nobody is signed in', shape: me } } },
  'POST /api/sign-in': {
    area: 'Who is there', does: 'Signs somebody in', more: 'Only at a bench for which people are set up. The answer sets the cookie of the session.', body: signInBody,
    answers: {
      200: { words: 'Signed in', shape: me }, 400: { words: 'Name or secret is missing' }, 401: { words: 'Name or secret is wrong; never said which' },
      429: { words: 'Tried too often; Retry-After says when to try again' }, 503: { words: 'Too many are signing in at this moment' },
    },
  },
  'POST /api/sign-out': { area: 'Who is there', does: 'Ends the session', more: 'Only at a bench for which people are set up.', answers: { 200: { words: 'Nobody is signed in any more', shape: me } } },
  'GET /api/benches': { area: 'The bench now', does: 'Lists the benches and how each is at this moment', answers: { 200: { words: 'All benches of this daemon', shape: z.array(benchLine) } } },
  'GET /api/benches/:bench/runs': { area: 'The bench now', does: 'Lists the newest finished runs', params: benchAddress.shape, query: recentQuery, answers: { 200: { words: 'Newest first', shape: z.array(runSummary) } } },
  'GET /api/benches/:bench/envelope': {
    area: 'The bench now', does: 'Gives a past stretch of the trace, thinned for drawing', more: 'Give run, or from and to in s. Each column is told by its first, lowest, highest and last sample.', query: envelopeQuery,
    answers: { 200: { words: 'Samples, oldest first', shape: envelope } },
  },
  'GET /healthz': {
    area: 'Watching over it', does: 'Tells whether every bench is watched and recorded',
    answers: { 200: { words: 'All is well', shape: health }, 503: { words: 'It is not, and why', shape: health } },
  },
  'GET /metrics': { area: 'Watching over it', does: 'Gives the metrics in the text format of Prometheus', answers: { 200: { words: 'Metrics', type: 'text/plain' } } },
  'GET /': { area: 'Pages', does: 'Leads to the live page', answers: { 302: { words: 'To /live/' } } },
  'GET /*': { area: 'Pages', does: 'Gives a page or a file of one', more: 'Such as /live/. The name may hold slashes. Whoever is not signed in is led to the sign-in page.', answers: { 200: { words: 'The file', type: '*/*' } } },
  'GET /sign-in/*': { area: 'Pages', does: 'Gives the sign-in page', answers: { 200: { words: 'The file', type: '*/*' } } },
  'GET /assets/*': { area: 'Pages', does: 'Gives scripts and styles of the pages', answers: { 200: { words: 'The file', type: '*/*' } } },
  'GET /api/openapi.json': { area: 'Pages', does: 'Gives this description', answers: { 200: { words: 'OpenAPI 3.1', shape: z.looseObject({ openapi: z.string() }) } } },
};
