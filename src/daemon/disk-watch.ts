import { statfsSync } from 'node:fs';
import { dirname } from 'node:path';

export interface DiskWatchSetup {
  /** Path of the store; its folder is looked at. */
  readonly store: string;
  /** bytes */
  readonly warnBelow: number;
  /** One plain sentence; `null` when it is over. */
  readonly tell: (text: string | null) => void;
  /** bytes free in a folder for this user; tests pass their own. */
  readonly freeIn?: (folder: string) => number;
}

/** s between two looks: a disk does not fill faster than people can act. */
const lookEvery = 10;
/** The warning goes once there is so much more room than the limit, so that it does not flicker. */
const enough = 1.1;

const freeOnDisk = (folder: string): number => {
  const { bavail, bsize } = statfsSync(folder);
  return bavail * bsize;
};

/** Warns early that the disk under the store is getting full. Never throws: what cannot be looked at is told. */
export class DiskWatch {
  private lastLook = -Infinity;
  private told: string | null = null;
  private readonly freeIn;

  constructor(private readonly setup: DiskWatchSetup) {
    this.freeIn = setup.freeIn ?? freeOnDisk;
  }

  /** Call about once a second with the present time (s); looks now and then. */
  tick(now: number): void {
    if (now - this.lastLook < lookEvery) return;
    this.lastLook = now;
    const text = this.look();
    if (text === this.told) return;
    this.told = text;
    this.setup.tell(text);
  }

  private look(): string | null {
    const { store, warnBelow } = this.setup;
    let free: number;
    try {
      free = this.freeIn(dirname(store));
    } catch (error) {
      return `how much room is left for the records cannot be seen (${error instanceof Error ? error.message : String(error)})`;
    }
    if (free >= warnBelow * (this.told === null ? 1 : enough)) return null;
    return `only ${shownSize(free)} free where the records are kept; make room before it is full, or nothing more can be recorded`;
  }
}

/** Two digits: the sentence is told anew when it changes, and that should be seldom. */
function shownSize(bytes: number): string {
  const [unit, per] = bytes >= 1e9 ? ['GB', 1e9] : ['MB', 1e6];
  return `${Number((bytes / per).toPrecision(2))} ${unit}`;
}
