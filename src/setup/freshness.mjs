import { existsSync, mkdirSync, readdirSync, statSync, utimesSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';

/** Newest change below the given files and folders, ms. Folders count too, so that a removed file is noticed. */
export function newestChange(paths) {
  let newest = 0;
  const look = (path) => {
    const found = statSync(path, { throwIfNoEntry: false });
    if (!found) return;
    newest = Math.max(newest, found.mtimeMs);
    if (found.isDirectory()) for (const name of readdirSync(path)) look(join(path, name));
  };
  paths.forEach(look);
  return newest;
}

/** True when something below `inputs` changed after the build that wrote `stamp` began. */
export const isStale = (stamp, inputs) => !existsSync(stamp) || statSync(stamp).mtimeMs < newestChange(inputs);

/** Notes that what was there at `began` (ms) is built. A change made during the build is thus built next time. */
export function markFresh(stamp, began) {
  mkdirSync(dirname(stamp), { recursive: true });
  writeFileSync(stamp, '');
  utimesSync(stamp, began / 1000, began / 1000);
}
