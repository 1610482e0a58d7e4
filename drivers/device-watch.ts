import { stat } from 'node:fs/promises';

/** ms between two looks. */
const every = 500;

const identity = (path: string) => stat(path).then(({ ino, rdev }) => `${ino} ${rdev}`, () => null);

/**
 * Calls `gone` once when the device behind a path is no longer the one that was opened. The serial library may miss an
 * unplug: it reads on from the dead handle without a word and keeps a processor busy with it (seen with version 13 in
 * about one unplug of seven on a pseudo terminal). Paths outside the file system (COM3) are not watched.
 * @returns ends the watch
 */
export function watchDevice(path: string, gone: () => void): () => void {
  if (!path.startsWith('/')) return () => {};
  const first = identity(path);
  let over = false;
  let looking = false;
  const look = async () => {
    const same = (await first) === (await identity(path));
    looking = false;
    if (same || over) return;
    end();
    gone();
  };
  const timer = setInterval(() => {
    if (looking) return;
    looking = true;
    void look();
  }, every);
  const end = () => {
    over = true;
    clearInterval(timer);
  };
  return end;
}
