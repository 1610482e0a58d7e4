import { make } from './page-parts.js';
import { offerSignOut } from './signed-in.js';

/** A page of Dwellkeeper: its folder in `dashboards/`, and the word for it. */
interface PageLink {
  readonly folder: string;
  readonly word: string;
  /** Of no use to anybody below. */
  readonly needs?: 'engineer';
}

/** Every page, in the order in which they are offered. A new page adds its line here. */
export const pageLinks: readonly PageLink[] = [
  { folder: 'live', word: 'Live' },
  { folder: 'history', word: 'Runs' },
  { folder: 'plans', word: 'Plans' },
  { folder: 'tuning', word: 'Tuning' },
  { folder: 'changes', word: 'Changes', needs: 'engineer' },
];

/** The bench that this page is about, from its address; `null` where it does not say. */
export const benchAsked = (): string | null => new URLSearchParams(location.search).get('bench');

/** Also says who is signed in, with a way out. Fills `<nav class="pages" id="pages" aria-label="Pages">`; the bench goes along from page to page. */
export function offerPages(list: HTMLElement, shown: string, bench: string | null = benchAsked()): void {
  list.replaceChildren(
    ...pageLinks.map(({ folder, word, needs }) => {
      const link = make('a', '', word);
      // Relative, so that the pages work behind any prefix.
      link.setAttribute('href', `../${folder}/${bench === null ? '' : `?bench=${encodeURIComponent(bench)}`}`);
      if (needs !== undefined) link.dataset['needs'] = needs;
      if (folder === shown) link.setAttribute('aria-current', 'page');
      return link;
    }),
  );
  void offerSignOut(list);
}
