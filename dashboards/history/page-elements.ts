import type { Verdict } from '../../src/core/outcome.js';
import { make } from '../shared/page-parts.js';
import { shapeOf } from '../shared/shapes.js';
import { lookOfVerdict } from '../shared/verdict-looks.js';

/** A verdict as shape and word; the colour comes third. */
export function verdictMark(result: Verdict | null): HTMLElement {
  const { shape, title, tone } = result === null ? ({ shape: 'ring', title: 'Going on', tone: 'quiet' } as const) : lookOfVerdict(result);
  const mark = make('span', 'mark', shapeOf(shape), title);
  mark.dataset['tone'] = tone;
  return mark;
}

export function link(text: string, address: string, name = ''): HTMLAnchorElement {
  const element = make('a', name, text) as HTMLAnchorElement;
  element.setAttribute('href', address);
  return element;
}

/** A file to be saved. */
export function fileLink(text: string, address: string, name = 'button'): HTMLAnchorElement {
  const element = link(text, address, name);
  element.setAttribute('download', '');
  return element;
}

/** A document that opens beside the page. */
export function openLink(text: string, address: string): HTMLAnchorElement {
  const element = link(text, address, 'button');
  element.setAttribute('target', '_blank');
  element.setAttribute('rel', 'noopener');
  return element;
}

export function button(text: string, act: () => void, name = ''): HTMLButtonElement {
  const element = make('button', name, text) as HTMLButtonElement;
  element.type = 'button';
  element.addEventListener('click', act);
  return element;
}

export function select(name: string, label: string, options: readonly (readonly [value: string, text: string])[], chosen: string): HTMLElement {
  const list = make('select', '') as HTMLSelectElement;
  list.name = name;
  for (const [value, text] of options) {
    const option = make('option', '', text) as HTMLOptionElement;
    option.value = value;
    list.append(option);
  }
  list.value = chosen;
  return make('label', 'field', make('span', '', label), list);
}

/** One table row; each cell says its column, for narrow screens where it stands alone. */
export function row(cells: readonly (readonly [column: string, content: Node | string])[]): HTMLElement {
  return make(
    'tr',
    '',
    ...cells.map(([column, content], i) => {
      const cell = make(i === 0 ? 'th' : 'td', '', content);
      if (i === 0) cell.setAttribute('scope', 'row');
      cell.dataset['column'] = column;
      return cell;
    }),
  );
}

/** A table with its caption and the heads of its columns. Scrolls by itself where it is wider than the page. */
export function table(caption: string, columns: readonly string[], rows: readonly Node[], name = ''): HTMLElement {
  const heads = columns.map((column) => {
    const head = make('th', '', column);
    head.setAttribute('scope', 'col');
    return head;
  });
  return make('table', name, make('caption', 'unseen', caption), make('thead', '', make('tr', '', ...heads)), make('tbody', '', ...rows));
}

/** Day and time where the page is read, in the way of the browser's language. */
export const dayAndTime = (wall: number): string => new Date(wall).toLocaleString(undefined, { dateStyle: 'medium', timeStyle: 'short' });
