import type { BenchHealth } from '../../src/server/bench-feed.js';
import { make } from '../shared/page-parts.js';

const lidWords = {
  open: 'its contact says open: no pressure before it is shut',
  closed: 'its contact says shut; look all the same',
} as const;

/** What to look at before any pressure. The tool reminds; nothing in it holds the pump back. */
export function setUpReminder(lid: BenchHealth['lid']): HTMLElement {
  const lines = [
    'Ratings: no hose, fitting or adapter is rated below what the plan asks of it; ask a competent person where that is not plain.',
    'Fittings tight, before pressure and never under it; every assembly free to move, mat in place.',
    'Air purged: compressed air stores energy that water does not.',
    `Lid latched${lid === null ? '' : `: ${lidWords[lid]}`}.`,
    'Nobody else at the bench; the vent within reach.',
  ];
  const list = make('ul', '', ...lines.map((text) => make('li', '', text)));
  if (lid === 'open') list.lastElementChild?.previousElementSibling?.classList.add('grave');
  return make('section', 'reminder', make('h3', '', 'Before any pressure'), list);
}
