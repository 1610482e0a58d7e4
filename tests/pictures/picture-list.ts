import type { Page } from 'playwright-core';

/** A page to be taken; every page of `dashboards/` has its line here. */
export interface Picture {
  /** `dashboards/NAME-page.png` */
  readonly name: string;
  /** `played`: a bench in mid-hold whose clock stands still; `demo`: that of the command `demo`, after a few runs; `season`: a store with a season of runs. */
  readonly bench: 'played' | 'demo' | 'season';
  readonly address: string;
  /** What must be on the page before it is taken. */
  readonly ready: (page: Page) => Promise<unknown>;
}

const drawn = (page: Page) => page.locator('.chart[data-points]').first().waitFor();

export const pictures: readonly Picture[] = [
  { name: 'live', bench: 'played', address: '/live/', ready: (page) => page.locator('#phase', { hasText: 'Holding' }).waitFor() },
  { name: 'runs', bench: 'season', address: '/history/?text=example', ready: (page) => page.locator('.runs-table').waitFor() },
  { name: 'run', bench: 'played', address: '/history/?run=2&with=1', ready: drawn },
  { name: 'statistics', bench: 'season', address: '/history/?view=statistics&of=two-wire+DN12+proof&hoses=two-wire+DN12', ready: (page) => page.locator('.plot').first().waitFor() },
  { name: 'plans', bench: 'demo', address: '/plans/', ready: (page) => page.getByText('two-wire DN12 proof').last().click() },
  {
    name: 'changes', bench: 'demo', address: '/changes/',
    ready: async (page) => {
      await page.getByText('The chain is whole').waitFor();
      await page.getByRole('button', { name: 'What it changed' }).first().click();
      await page.locator('#entries table').waitFor();
    },
  },
  {
    name: 'tuning', bench: 'demo', address: '/tuning/',
    ready: async (page) => {
      await page.locator('main canvas').first().waitFor();
      await page.getByText('reading…').first().waitFor({ state: 'hidden' });
    },
  },
];
