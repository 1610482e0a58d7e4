import type { PressureUnit } from '../../src/core/units.js';
import { offerPages } from '../shared/page-links.js';
import { part, say } from '../shared/page-parts.js';
import { chosenUnit, offerUnits } from '../shared/unit-choice.js';
import { HistoryClient } from './history-client.js';
import { emptyAddress, readAddress, writeAddress, type PageAddress } from './page-address.js';
import { link } from './page-elements.js';
import { RunView } from './run-view.js';
import { SearchView } from './search-view.js';
import { StatisticsView } from './statistics-view.js';

interface View {
  readonly element: HTMLElement;
  leave(): void;
}

/** The runs of one bench: searched, opened, counted. What is shown stands in the address. */
export class HistoryPage {
  readonly #client: HistoryClient;
  #address: PageAddress;
  #view: View | null = null;
  #unit: PressureUnit;

  constructor(
    readonly bench: string,
    private readonly own: PressureUnit,
    all: readonly string[],
  ) {
    this.#client = new HistoryClient(bench);
    this.#unit = chosenUnit() ?? own;
    this.#address = { ...readAddress(location.search), bench };
    say(part('bench'), bench);
    offerPages(part('pages'), 'history', bench);
    offerBenches(all, bench);
    addEventListener('popstate', () => {
      this.#address = { ...readAddress(location.search), bench };
      this.#show();
    });
    for (const [id, view] of [['view-runs', 'runs'], ['view-statistics', 'statistics']] as const) {
      part(id).addEventListener('click', (event) => {
        if (event.ctrlKey || event.metaKey || event.shiftKey) return;
        event.preventDefault();
        this.#go({ ...emptyAddress(bench), view });
      });
    }
    this.#show();
  }

  #go(address: PageAddress): void {
    this.#address = address;
    history.pushState(null, '', writeAddress(address));
    this.#show();
    scrollTo({ top: 0 });
    // So that a screen reader goes on with what is new.
    part('main').focus({ preventScroll: true });
  }

  #show(): void {
    const address = this.#address;
    offerUnits(this.own, this.#unit, (unit) => {
      this.#unit = unit;
      this.#show();
    });
    for (const [id, view] of [['view-runs', 'runs'], ['view-statistics', 'statistics']] as const) {
      part(id).setAttribute('href', writeAddress({ ...emptyAddress(this.bench), view }));
      if (address.view === view || (view === 'runs' && address.view === 'run')) part(id).setAttribute('aria-current', 'page');
      else part(id).removeAttribute('aria-current');
    }
    document.title = `Dwellkeeper, ${address.view === 'run' ? `run ${address.run ?? ''}` : address.view}`;
    this.#view?.leave();
    const go = (next: PageAddress): void => this.#go(next);
    this.#view =
      address.view === 'statistics'
        ? new StatisticsView(this.#client, address, this.#unit, go)
        : address.view === 'run'
          ? new RunView(this.#client, address, this.#unit, go, (next) => {
              this.#address = next;
              history.replaceState(null, '', writeAddress(next));
            })
          : new SearchView(this.#client, address, this.#unit, go);
    part('main').replaceChildren(this.#view.element);
  }
}

/** Ways to the runs of the other benches, where there are any. */
function offerBenches(names: readonly string[], shown: string): void {
  part('benches').hidden = names.length < 2;
  part('benches').replaceChildren(
    ...names.map((name) => {
      const way = link(name, writeAddress(emptyAddress(name)));
      if (name === shown) way.setAttribute('aria-current', 'page');
      return way;
    }),
  );
}
