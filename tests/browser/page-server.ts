import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { chromium, type Browser } from 'playwright-core';
import { build } from 'vite';

/** Builds the pages into a folder of their own, so that tests never meet a half-written `dist`. */
export async function buildPages(): Promise<{ readonly folder: string; remove(): Promise<void> }> {
  const folder = await mkdtemp(join(tmpdir(), 'dwellkeeper-pages-'));
  await build({
    configFile: fileURLToPath(new URL('../../.config/vite.config.ts', import.meta.url)),
    logLevel: 'error',
    build: { outDir: folder },
  });
  return { folder, remove: () => rm(folder, { recursive: true, force: true }) };
}

/** The Chromium of this machine, without a graphics card and without calls home. */
export function openBrowser(): Promise<Browser> {
  return chromium.launch({
    executablePath: '/usr/bin/chromium',
    args: ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync'],
  });
}
