import { spawnSync } from 'node:child_process';
import { closeSync, mkdirSync, mkdtempSync, openSync, rmSync, statfsSync, truncateSync, writeFileSync, writeSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { basename, join } from 'node:path';
import { onTestFinished } from 'vitest';

/**
 * A small disk of its own, mounted for one test: what it refuses, the kernel refuses. Where this user may not mount, not
 * by `sudo` either, it throws: a test about real disks fails then and is never left out in silence.
 */
export class SmallDisk {
  readonly folder: string;
  private readonly ballast: string;

  private constructor(private readonly place: string, private readonly image: string | null) {
    // A folder below it: the mount itself cannot be deleted by whoever cleans up.
    this.folder = join(place, 'bench');
    this.ballast = join(place, 'ballast');
    mkdirSync(this.folder);
  }

  /** @param size bytes */
  static inMemory(size: number): SmallDisk {
    const place = mountPoint();
    asRoot('mount', '-t', 'tmpfs', '-o', `size=${size},mode=0777`, 'small-disk', place);
    return new SmallDisk(place, null);
  }

  /** With an ext4 file system in a file, which goes read-only on errors as that of a memory card does. @param size bytes */
  static ofFile(size: number): SmallDisk {
    const place = mountPoint();
    const image = `${place}.img`;
    onTestFinished(() => rmSync(image, { force: true }));
    writeFileSync(image, '');
    truncateSync(image, size);
    asRoot('mkfs.ext4', '-q', '-E', 'root_owner', image);
    mountImage(image, place);
    return new SmallDisk(place, image);
  }

  /** Writes until not one byte more goes in, or until about `left` bytes are free. */
  fill(left = 0): void {
    if (left > 0) {
      const { bavail, bsize } = statfsSync(this.folder);
      writeFileSync(this.ballast, Buffer.alloc(bavail * bsize - left));
      return;
    }
    const file = openSync(this.ballast, 'a');
    try {
      for (let piece = 65_536; piece >= 1; ) {
        try {
          writeSync(file, Buffer.alloc(piece));
        } catch (error) {
          if (!(error instanceof Error && 'code' in error && error.code === 'ENOSPC')) throw error;
          piece /= 2;
        }
      }
    } finally {
      closeSync(file);
    }
  }

  /** Somebody made room. */
  free(): void {
    rmSync(this.ballast);
  }

  /** A file takes no more writes, not even by whoever has it open; or takes them again. */
  protect(file: string, on: boolean): void {
    asRoot('chattr', on ? '+i' : '-i', file);
  }

  /** The file system meets an error and takes no more writes. */
  breakDown(): void {
    const device = asRoot('findmnt', '-no', 'SOURCE', this.place).trim();
    asRoot('sh', '-c', `echo 1 > /sys/fs/ext4/${basename(device)}/trigger_fs_error`);
  }

  /** Somebody checked the broken file system and mounted it again. */
  putRight(): void {
    if (this.image === null) throw new Error('this disk does not break down');
    asRoot('umount', this.place);
    // 1: errors were corrected.
    const { status, stderr } = sudo('fsck.ext4', '-fy', this.image);
    if (status !== 0 && status !== 1) throw new Error(`fsck.ext4: ${stderr}`);
    mountImage(this.image, this.place);
  }
}

function mountPoint(): string {
  const place = mkdtempSync(join(tmpdir(), 'small-disk-'));
  onTestFinished(() => {
    sudo('umount', '-l', place);
    rmSync(place, { recursive: true, force: true });
  });
  return place;
}

const mountImage = (image: string, place: string): string => asRoot('mount', '-o', 'loop,errors=remount-ro', image, place);

const sudo = (program: string, ...args: string[]) =>
  process.getuid?.() === 0 ? spawnSync(program, args, { encoding: 'utf8' }) : spawnSync('sudo', ['-n', program, ...args], { encoding: 'utf8' });

function asRoot(program: string, ...args: string[]): string {
  const { status, stdout, stderr, error } = sudo(program, ...args);
  if (status !== 0) throw new Error(`${program} ${args.join(' ')}: ${error?.message ?? stderr}`);
  return stdout;
}
