import { benchToShow } from '../shared/bench-to-show.js';
import { benchAsked, offerPages } from '../shared/page-links.js';
import { part, say } from '../shared/page-parts.js';
import { ChangesPage } from './changes-page.js';

try {
  const bench = await benchToShow(benchAsked());
  offerPages(part('pages'), 'changes', bench?.name ?? null);
  if (bench === null) say(part('problem'), 'No bench is set up on this server.');
  else new ChangesPage(bench.name);
} catch {
  say(part('problem'), 'The daemon does not answer; load the page again once it runs.');
}
