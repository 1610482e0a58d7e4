import { z } from 'zod';
import { benchAsked, offerPages } from '../shared/page-links.js';
import { part, say } from '../shared/page-parts.js';
import { answerOf, TuningApi } from './tuning-api.js';
import { TuningPage, unitOfBench } from './tuning-page.js';

const benches = z.array(z.object({ name: z.string(), unit: z.string() }));

async function begin(): Promise<void> {
  const found = benches.parse(await (await answerOf('/api/benches')).json());
  const bench = found.find(({ name }) => name === benchAsked()) ?? found[0];
  if (bench === undefined) throw new Error('No bench is set up on this server.');
  say(part('bench'), bench.name);
  offerPages(part('pages'), 'tuning', bench.name);
  const api = new TuningApi(bench.name);
  const worker = new Worker(new URL('./reader-worker.ts', import.meta.url), { type: 'module' });
  await new TuningPage(api, await api.inForce(), unitOfBench(bench.unit), worker).start();
}

try {
  await begin();
} catch (error) {
  offerPages(part('pages'), 'tuning');
  say(part('problem'), error instanceof Error ? error.message : String(error));
  part('problem').hidden = false;
}
