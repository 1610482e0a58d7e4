import { LivePage, offerBenches } from './live-page.js';
import { offerPages } from '../shared/page-links.js';
import { part, say } from '../shared/page-parts.js';
import { toSignIn } from '../shared/signed-in.js';

/** Names of the benches that the server watches; asks again until it answers. */
async function benchNames(): Promise<readonly string[]> {
  for (;;) {
    try {
      const answer = await fetch('/api/benches');
      if (answer.status === 401) toSignIn();
      const benches: unknown = answer.ok ? await answer.json() : null;
      if (Array.isArray(benches)) return benches.flatMap((bench: unknown) => (typeof bench === 'object' && bench !== null && 'name' in bench && typeof bench.name === 'string' ? [bench.name] : []));
    } catch {
      say(part('age-words'), 'not connected');
    }
    await new Promise((resolve) => setTimeout(resolve, 1000));
  }
}

const asked = new URLSearchParams(location.search).get('bench');
offerPages(part('pages'), 'live');
const names = await benchNames();
const bench = asked ?? names[0];
if (bench === undefined) say(part('sentence'), 'No bench is set up on this server.');
else {
  offerBenches(names, bench);
  new LivePage(bench);
}
