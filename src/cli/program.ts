import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { z } from 'zod';

// This file and its bundle lie at the same depth: src/cli and dist/cli.
const root = new URL('../../', import.meta.url);
const { name, version } = z.object({ name: z.string(), version: z.string() }).parse(JSON.parse(readFileSync(new URL('package.json', root), 'utf8')));

/** Name and version, as records carry it: `dwellkeeper 0.1.0`. */
export const software = `${name} ${version}`;

/** Folder of the built pages. */
export const pagesFolder = fileURLToPath(new URL('dist/pages', root));
