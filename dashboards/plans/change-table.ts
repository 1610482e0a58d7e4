import type { Change } from '../shared/setup-client.js';
import { make } from '../shared/page-parts.js';

/** Changed fields, before and after. @param caption read out with the table */
export function changeTable(changes: readonly Change[], caption: string): HTMLElement {
  if (changes.length === 0) return make('p', 'lead', 'No value differs; only remarks or how it is written.');
  const head = make('tr', '', ...['Field', 'From', 'To'].map((word) => heading(word, 'col')));
  const rows = changes.map(({ key, from, to }) => make('tr', '', heading(fieldWords(key), 'row'), make('td', '', from), make('td', '', to)));
  return make('table', '', make('caption', 'unseen', caption), make('thead', '', head), make('tbody', '', ...rows));
}

function heading(text: string, scope: 'col' | 'row'): HTMLElement {
  const cell = make('th', '', text);
  cell.setAttribute('scope', scope);
  return cell;
}

/** `riseRate.maximum` as the form writes it: `Rise rate maximum`. */
export function fieldWords(key: string): string {
  const words = key.replace('.', ' ').replaceAll(/([a-z])([A-Z])/g, '$1 $2').toLowerCase();
  return words === 'plan' || words === 'thresholds' ? 'Name' : `${words.charAt(0).toUpperCase()}${words.slice(1)}`;
}
