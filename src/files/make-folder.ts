import { existsSync, mkdirSync, statSync } from 'node:fs';
import { dirname, resolve } from 'node:path';

/**
 * Makes a folder and those above it, one by one: Node's own way of making all at once never comes back where the system
 * refuses a folder with 'no such file', as below /proc.
 * @throws a system error
 */
export function makeFolder(folder: string): void {
  const missing: string[] = [];
  for (let at = resolve(folder); !existsSync(at); at = dirname(at)) missing.unshift(at);
  for (const at of missing) makeOne(at);
  if (missing.length === 0 && !statSync(folder).isDirectory()) makeOne(folder);
}

/** Another program may have made it meanwhile. */
function makeOne(folder: string): void {
  try {
    mkdirSync(folder);
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code !== 'EEXIST' || !statSync(folder).isDirectory()) throw error;
  }
}
