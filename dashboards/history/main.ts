import { pressureUnitOf, type PressureUnit } from '../../src/core/units.js';
import { make, part, say } from '../shared/page-parts.js';
import { HistoryPage } from './history-page.js';

/** The benches that the server watches, and the unit that each is set to. */
async function benches(): Promise<readonly { readonly name: string; readonly unit: PressureUnit }[]> {
  const answer = await fetch('/api/benches');
  const body: unknown = answer.ok ? await answer.json() : null;
  if (!Array.isArray(body)) throw new Error(`the daemon answered ${answer.status}`);
  return body.flatMap((bench: unknown) =>
    typeof bench === 'object' && bench !== null && 'name' in bench && typeof bench.name === 'string'
      ? [{ name: bench.name, unit: ('unit' in bench && typeof bench.unit === 'string' ? pressureUnitOf(bench.unit) : undefined) ?? 'bar' }]
      : [],
  );
}

const status = make('p', 'progress', 'Asking for the benches.');
status.setAttribute('role', 'status');
part('main').append(status);
try {
  const found = await benches();
  const asked = new URLSearchParams(location.search).get('bench');
  const bench = found.find(({ name }) => name === asked) ?? found[0];
  if (bench === undefined) say(status, 'No bench is set up on this server.');
  else new HistoryPage(bench.name, bench.unit, found.map(({ name }) => name));
} catch (error) {
  say(status, `The daemon cannot be reached (${error instanceof Error ? error.message : String(error)}). Load this page again.`);
}
