import { spawnSync } from 'node:child_process';
import { existsSync, writeFileSync, renameSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { inputError } from '../core/problems.js';
import { makeFolder } from '../files/make-folder.js';

/** A file of the service. */
export interface ServiceFile {
  /** Absolute, from the root of the system. */
  readonly path: string;
  readonly text: string;
}

/** Everything that setting a bench up as a service does. */
export interface ServicePlan {
  readonly unit: string;
  readonly files: readonly ServiceFile[];
  readonly user: string;
  /** Folders that the user of the service must be able to write. */
  readonly writes: readonly string[];
}

/** One command that is run, or shown. */
export type Command = readonly [string, ...string[]];

/** Commands before and after the files are written, in their order. */
export function commandsOf({ unit, user, writes, files }: ServicePlan, userExists: boolean): { readonly before: readonly Command[]; readonly after: readonly Command[] } {
  return {
    before: userExists ? [] : [['useradd', '--system', '--user-group', '--no-create-home', '--home-dir', '/nonexistent', '--shell', '/usr/sbin/nologin', user]],
    after: [
      // A folder that is there may be somebody else's: its owner is left as it is, and whether it can be written is tried.
      ...writes.map((folder): Command => (existsSync(folder) ? ['runuser', '-u', user, '--', 'test', '-w', folder] : ['install', '-d', '-o', user, '-g', user, '-m', '0750', folder])),
      ...(files.some(({ path }) => path.endsWith('.rules')) ? [['udevadm', 'control', '--reload'] as const, ['udevadm', 'trigger', '--subsystem-match=tty'] as const] : []),
      ['systemctl', 'daemon-reload'],
      ['systemctl', 'enable', unit],
    ],
  };
}

/** Runs commands; tests pass their own. @returns what went wrong, or `null` */
export type Runner = (command: Command) => string | null;

export const run: Runner = ([program, ...args]) => {
  const { error, status, stderr } = spawnSync(program, args, { encoding: 'utf8' });
  if (error) return error.message;
  return status === 0 ? null : `ended with ${status}: ${stderr.trim().split('\n').at(-1) ?? ''}`;
};

/** Whether the system knows a user of that name. */
export const userExists = (user: string): boolean => spawnSync('getent', ['passwd', user]).status === 0;

/**
 * Sets a service up. Files appear whole; what was there under the same name is replaced, for they are the program's own.
 * @param system folder that stands for `/`: then only the files are written, for packages and images
 * @throws InputError where rights or systemd are missing, or a command fails
 */
export function installService(plan: ServicePlan, system: string | null, runner: Runner = run): void {
  if (system === null) {
    if (process.getuid?.() !== 0) throw inputError('service install', '', 'needs the rights of root: run it with sudo, or look at what it would do with --dry-run');
    if (!existsSync('/run/systemd/system')) throw inputError('service install', '', 'systemd does not run here; --dry-run prints the unit for another computer');
  }
  const { before, after } = commandsOf(plan, system === null && userExists(plan.user));
  if (system === null) before.forEach((command) => must(command, runner));
  for (const { path, text } of plan.files) {
    const target = system === null ? path : join(system, path);
    makeFolder(dirname(target));
    writeFileSync(`${target}.new`, text, { mode: 0o644 });
    renameSync(`${target}.new`, target);
  }
  if (system === null) after.forEach((command) => must(command, runner));
}

function must(command: Command, runner: Runner): void {
  const wrong = runner(command);
  if (wrong !== null && command[0] === 'runuser') {
    const [folder, user] = [command.at(-1), command[2]];
    throw inputError('service install', '', `${user} may not write to ${folder}, where the records go; give it the folder (chown ${user}: ${folder}) or name another store in the bench file`);
  }
  if (wrong !== null) throw inputError('service install', '', `'${command.join(' ')}' did not work (${wrong})`);
}
