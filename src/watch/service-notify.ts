import { execFile } from 'node:child_process';

/** Hands assignments such as `READY=1` to the service manager. */
export type Notifier = (assignments: readonly string[]) => Promise<void>;

/** ms that one word to the service manager may take. */
const patience = 10_000;

/**
 * Speaks sd_notify through systemd's own program: Node has no datagram sockets of the Unix kind, and a native module for
 * one line a minute would have to be compiled on every machine. The unit needs NotifyAccess=all for it.
 */
const bySystemdNotify: Notifier = (assignments) =>
  new Promise((resolve, reject) => {
    execFile('systemd-notify', [...assignments], { timeout: patience, env: process.env }, (error) => (error === null ? resolve() : reject(new Error(`systemd-notify failed: ${error.message}`, { cause: error }))));
  });

/** What the service manager asked for in the environment (sd_notify(3), sd_watchdog_enabled(3)). */
export interface NotifyEnvironment {
  readonly NOTIFY_SOCKET?: string | undefined;
  readonly WATCHDOG_USEC?: string | undefined;
  readonly WATCHDOG_PID?: string | undefined;
}

export interface ServiceNotifyOptions {
  /** One line that `systemctl status` shows. */
  readonly status: () => string;
  /** It could not be told: a word for the log. */
  readonly trouble: (error: unknown) => void;
  readonly environment?: NotifyEnvironment;
  readonly notify?: Notifier;
  readonly pid?: number;
}

/** ms between two lines of status where no watchdog sets the pace. */
const statusEvery = 60_000;

/**
 * Tells systemd that the bench is watched, how it goes, and (where it asked) that the program is alive. The beat comes from
 * the event loop itself and says nothing more: a pulled cable or a full disk is no better after a restart. Without a
 * service manager nothing happens.
 */
export class ServiceNotify {
  private timer: NodeJS.Timeout | null = null;
  private readonly environment: NotifyEnvironment;
  private readonly notify: Notifier;
  private told = '';
  private telling = false;

  constructor(private readonly options: ServiceNotifyOptions) {
    this.environment = options.environment ?? process.env;
    this.notify = options.notify ?? bySystemdNotify;
  }

  /** Everything is open and recording. */
  async ready(): Promise<void> {
    if (!this.wanted) return;
    this.told = this.status();
    await this.say(['READY=1', this.told]);
    const watchdog = this.watchdog();
    // Half the time allowed, as sd_watchdog_enabled(3) recommends.
    this.timer ??= setInterval(() => void this.beat(watchdog !== null), watchdog === null ? statusEvery : watchdog / 2);
  }

  async stopping(): Promise<void> {
    if (this.timer !== null) clearInterval(this.timer);
    this.timer = null;
    if (this.wanted) await this.say(['STOPPING=1', 'STATUS=ending']);
  }

  private get wanted(): boolean {
    return (this.environment.NOTIFY_SOCKET ?? '') !== '';
  }

  /** ms that the program may be silent, or `null`. */
  private watchdog(): number | null {
    const { WATCHDOG_USEC, WATCHDOG_PID } = this.environment;
    const micro = Number(WATCHDOG_USEC);
    if (!(micro > 0) || (WATCHDOG_PID !== undefined && Number(WATCHDOG_PID) !== (this.options.pid ?? process.pid))) return null;
    return Math.max(100, micro / 1000);
  }

  private async beat(watchdog: boolean): Promise<void> {
    const status = this.status();
    const words = [...(watchdog ? ['WATCHDOG=1'] : []), ...(status === this.told ? [] : [status])];
    if (words.length === 0 || this.telling) return;
    this.told = status;
    await this.say(words);
  }

  private status(): string {
    return `STATUS=${this.options.status().replaceAll(/\s+/g, ' ').slice(0, 400)}`;
  }

  private async say(words: readonly string[]): Promise<void> {
    this.telling = true;
    try {
      await this.notify(words);
    } catch (error) {
      this.options.trouble(error);
    } finally {
      this.telling = false;
    }
  }
}
