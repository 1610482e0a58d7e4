import { existsSync, readdirSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { defineConfig } from 'vite';

const dashboards = fileURLToPath(new URL('../dashboards', import.meta.url));

/** Each folder of `dashboards/` with an index.html becomes one page of `dist/pages`. */
const pages = readdirSync(dashboards)
  .map((name) => join(dashboards, name, 'index.html'))
  .filter((file) => existsSync(file));

export default defineConfig({
  root: dashboards,
  // Addresses within the pages are relative, so that they work behind any prefix.
  base: './',
  publicDir: false,
  // A worker is a file of its own, as the content security policy wants it.
  worker: { format: 'es' },
  build: {
    outDir: fileURLToPath(new URL('../dist/pages', import.meta.url)),
    emptyOutDir: true,
    target: 'es2022',
    // An inlined file would be a `data:` address, which the content security policy refuses.
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    rolldownOptions: { input: pages },
  },
});
