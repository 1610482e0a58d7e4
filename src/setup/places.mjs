import { fileURLToPath } from 'node:url';
import { existsSync } from 'node:fs';
import { join } from 'node:path';

/** Folder that holds package.json. */
export const root = fileURLToPath(new URL('../..', import.meta.url));

/** @param {string[]} parts */
export const inRoot = (...parts) => join(root, ...parts);

/** True in a checkout; an installed package carries dist but not the sources of the commands. */
export const isCheckout = existsSync(inRoot('src', 'cli', 'main.ts'));
