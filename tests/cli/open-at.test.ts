import { expect, it } from 'vitest';
import { openAt } from '../../src/cli/open-at.js';

it('tells the page by an address that a browser can open', () => {
  expect(openAt('http://127.0.0.1:8460', [])).toEqual(['http://127.0.0.1:8460']);
  expect(openAt('https://0.0.0.0:8460', ['bench2.shop.example'])).toEqual(['https://bench2.shop.example:8460']);
  for (const address of ['http://0.0.0.0:8460', 'http://[::]:8460']) {
    const told = openAt(address, []);
    expect(told.length).toBeGreaterThan(0);
    for (const one of told) expect(one).toMatch(/^http:\/\/(?!0\.0\.0\.0)[\w.]+:8460$/);
  }
});
