import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { FrontDoor } from '../../src/access/front-door.js';
import { HttpServer } from '../../src/server/http-server.js';
import { operatorRoutes } from '../../src/server/operator-routes.js';
import { nameOf, peopleOfTests, personOf, secrets } from '../access/people-of-tests.js';
import { idleDesk } from '../server/idle-desk.js';
import { ScriptedFeed } from '../server/scripted-feed.js';
import { buildPages, sharedBrowser } from './page-server.js';

let browser: Browser;
let pages: Awaited<ReturnType<typeof buildPages>>;
let server: HttpServer;
let door: FrontDoor;
/** A name that would be run, were it not shown as a text. */
const sharp = '<img src=x onerror="document.title=1">';

beforeAll(async () => {
  pages = await buildPages();
  browser = await sharedBrowser();
  door = new FrontDoor({ people: [...(await peopleOfTests()), await personOf('operator', '590382', sharp)] });
  server = await HttpServer.start({ benches: [new ScriptedFeed('north')], pages: pages.folder, door, routes: (app) => operatorRoutes(app, [idleDesk('north')]) });
});
afterAll(async () => {
  await server.close();
});

async function fresh(colours: 'light' | 'dark' = 'light'): Promise<{ page: Page; close: () => Promise<void> }> {
  const context = await browser.newContext({ colorScheme: colours });
  const page = await context.newPage();
  return { page, close: () => context.close() };
}

describe('signing in at a page', () => {
  it('brings whoever wanted a page to it, by keyboard alone, and back out again', async () => {
    const { page, close } = await fresh();
    await page.goto(`${server.address}/live/?bench=north`);
    expect(new URL(page.url()).pathname).toBe('/sign-in/');
    await page.locator('#name:focus').waitFor();
    await page.keyboard.type('j. doe');
    await page.keyboard.press('Tab');
    await page.keyboard.type('000000');
    await page.keyboard.press('Enter');
    await page.getByRole('alert').filter({ hasText: 'The name, or the PIN or pass phrase, is not right.' }).waitFor();
    await expect.poll(() => page.getByLabel('PIN or pass phrase').inputValue()).toBe('');
    await page.keyboard.type(secrets.operator);
    await page.keyboard.press('Enter');
    await expect.poll(() => page.url()).toBe(`${server.address}/live/?bench=north`);
    await page.getByText('J. Doe, operator').waitFor();
    await expect.poll(() => page.getByLabel('You are').inputValue()).toBe(nameOf('operator'));
    await expect.poll(() => page.getByLabel('You are').isEditable()).toBe(false);
    await page.getByRole('button', { name: 'Sign out' }).click();
    // Two pages in a row may answer: the one that was asked for, and the one that it is sent on to.
    await expect.poll(() => new URL(page.url()).pathname).toBe('/sign-in/');
    await expect.poll(() => server.viewers).toBe(0);
    await close();
  });

  it('goes to no page of another server', async () => {
    const { page, close } = await fresh();
    for (const to of ['https://evil.example/', '//evil.example/', '/\\evil.example/', 'javascript:alert(1)', '/sign-in/']) {
      await page.context().clearCookies();
      await page.goto(`${server.address}/sign-in/?to=${encodeURIComponent(to)}`);
      await page.getByLabel('Name').fill(nameOf('viewer'));
      await page.getByLabel('PIN or pass phrase').fill(secrets.viewer);
      await page.getByRole('button', { name: 'Sign in' }).click();
      await expect.poll(() => page.url()).toBe(`${server.address}/live/`);
    }
    // What a viewer cannot do is not offered.
    await page.getByText('Wall screen, viewer').waitFor();
    await expect.poll(() => page.getByRole('button', { name: 'Job details' }).isVisible()).toBe(false);
    await close();
  });

  it('asks anew once the session has ended, from whichever page; a name is shown as a text and never run', async () => {
    const { page, close } = await fresh();
    await page.goto(`${server.address}/live/`);
    await page.getByLabel('Name').fill(sharp);
    await page.getByLabel('PIN or pass phrase').fill('590382');
    await page.getByRole('button', { name: 'Sign in' }).click();
    await page.getByText(`${sharp}, operator`).waitFor();
    await expect.poll(() => page.title()).toBe('Dwellkeeper, live');
    await expect.poll(() => page.locator('img').count()).toBe(0);
    door.use(await peopleOfTests());
    await expect.poll(() => new URL(page.url()).pathname).toBe('/sign-in/');
    await close();
  });

  it.each(['light', 'dark'] as const)('axe-core finds nothing, %s', async (colours) => {
    const { page, close } = await fresh(colours);
    await page.goto(`${server.address}/sign-in/`);
    await page.getByLabel('Name').fill('x');
    await page.getByLabel('PIN or pass phrase').fill('y');
    await page.keyboard.press('Enter');
    await page.getByRole('alert').filter({ hasText: /\S/ }).waitFor();
    const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
    await expect
      .poll(() => page.evaluate(`${axe}; axe.run().then(({ violations }) => violations.map(({ id, nodes }) => [id, nodes.map(({ target }) => target.join(' '))]))`))
      .toEqual([]);
    await close();
  });
});
