import { chromium, type Browser, type Page } from 'playwright-core';

const flags = [
  '--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync',
];

/** A browser as a shop has one. */
export const openBrowser = (): Promise<Browser> => chromium.launch({ executablePath: '/usr/bin/chromium', args: flags });

/** What a person can read on the page at one moment. */
export interface Shown {
  readonly stale: boolean;
  readonly phase: string;
  readonly verdict: string;
  readonly lines: readonly string[];
}

/** A live page that writes down everything it ever showed. */
export class LivePage {
  private constructor(readonly page: Page) {}

  static async open(browser: Browser, address: string): Promise<LivePage> {
    const page = await browser.newPage({ viewport: { width: 1280, height: 900 } });
    await page.goto(`${address}/live/`);
    await page.waitForFunction(() => document.body.dataset['stale'] === 'false', undefined, { timeout: 40_000 });
    await page.evaluate(() => {
      const history: string[] = [];
      Object.assign(window, { history_: history });
      const note = () => {
        const text = (id: string) => document.getElementById(id)?.textContent?.trim() ?? '';
        const now = `${document.body.dataset['stale'] === 'true' ? 'stale' : 'fresh'} | ${text('phase')} | ${text('verdict-word')}`;
        if (history.at(-1) !== now) history.push(now);
      };
      new MutationObserver(note).observe(document.body, { subtree: true, childList: true, characterData: true, attributes: true });
      note();
    });
    return new LivePage(page);
  }

  now(): Promise<Shown> {
    return this.page.evaluate(() => ({
      stale: document.body.dataset['stale'] !== 'false',
      phase: document.getElementById('phase')?.textContent?.trim() ?? '',
      verdict: document.getElementById('verdict-word')?.textContent?.trim() ?? '',
      lines: [...document.querySelectorAll('#verdict-lines li')].map((line) => line.textContent ?? ''),
    }));
  }

  /** Everything shown since the last call, each change once: `fresh | Holding | Pending`. */
  history(): Promise<string[]> {
    return this.page.evaluate(() => {
      const { history_ } = window as unknown as { history_: string[] };
      return history_.splice(0, history_.length - 1);
    });
  }

  async untilVerdict(word: string): Promise<void> {
    await this.page.waitForFunction((wanted) => document.getElementById('verdict-word')?.textContent?.trim() === wanted, word, { timeout: 40_000 });
  }

  async untilStale(stale: boolean): Promise<void> {
    await this.page.waitForFunction((wanted) => (document.body.dataset['stale'] === 'true') === wanted, stale, { timeout: 40_000 });
  }

  /** The list of earlier runs, newest first, as text. */
  runs(): Promise<string[]> {
    return this.page.locator('#runs li.run').allTextContents();
  }
}
