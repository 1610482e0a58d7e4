import { mkdtemp } from 'node:fs/promises';
import { rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { chromium, type Browser } from 'playwright-core';
import { build } from 'vite';

let built: Promise<string> | null = null;
let opened: Promise<Browser> | null = null;

/**
 * Builds the pages into a folder of their own, so that tests never meet a half-written `dist`: once for all files of a
 * worker, and gone with it.
 */
export async function buildPages(): Promise<{ readonly folder: string; remove(): Promise<void> }> {
  built ??= (async () => {
    const folder = await mkdtemp(join(tmpdir(), 'dwellkeeper-pages-'));
    process.once('exit', () => rmSync(folder, { recursive: true, force: true }));
    // Workers are ended by a signal, which alone would end the process without a word.
    process.once('SIGTERM', () => process.exit());
    await build({
      configFile: fileURLToPath(new URL('../../.config/vite.config.ts', import.meta.url)),
      logLevel: 'error',
      build: { outDir: folder },
    });
    return folder;
  })();
  return { folder: await built, remove: () => Promise.resolve() };
}

/** The Chromium of this machine, without a graphics card and without calls home. */
export function openBrowser(): Promise<Browser> {
  return chromium.launch({
    executablePath: '/usr/bin/chromium',
    args: ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync'],
  });
}

/** One for all files of a worker, that ends with it: close the pages, not the browser. Each new page has storage of its own. */
export function sharedBrowser(): Promise<Browser> {
  opened ??= openBrowser();
  return opened;
}
