import { benchToShow } from '../shared/bench-to-show.js';
import { benchAsked, offerPages } from '../shared/page-links.js';
import { part, say } from '../shared/page-parts.js';
import { PlansPage } from './plans-page.js';

offerPages(part('pages'), 'plans');
try {
  const bench = await benchToShow(benchAsked());
  if (bench === null) say(part('problem'), 'No bench is set up on this server.');
  else new PlansPage(bench.name, bench.unit);
} catch {
  say(part('problem'), 'The daemon does not answer; load the page again once it runs.');
}
