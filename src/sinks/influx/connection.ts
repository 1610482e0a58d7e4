import { InfluxDB } from 'influx';
import type { Engine, InfluxSettings } from './settings.js';
import { resolutionOf } from './stamps.js';
import { verdictOn, type Answer, type Failure } from './answer.js';

export interface Login {
  readonly username: string;
  readonly password: string;
}

/** How the database is reached. */
export interface Access extends Pick<InfluxSettings, 'url' | 'database' | 'engine'> {
  /** Asked anew each time the database is prepared, so that a changed password needs no restart. May throw InputError. */
  readonly login: () => Login | null;
  /** ms without an answer; default 5,000. */
  readonly patience?: number;
}

/** Part of a connection that a forwarder uses. */
export interface Database {
  /** Finds out what answers there and makes the database if need be. */
  prepare(): Promise<{ readonly engine: Engine } | Failure>;
  write(lines: readonly string[], engine: Engine): Promise<Answer>;
}

/** Hosts are never set aside for a while by the client: when to try again is decided in one place, the forwarder. */
const atOnce = { getDelay: () => 0, next: () => atOnce, reset: () => atOnce };

/**
 * A database with the InfluxDB 1.x API, by way of the `influx` client. No answer is an exception: each becomes an
 * `Answer`, and none of its words hold the login.
 */
export class Connection implements Database {
  private client: InfluxDB;
  private login: Login | null = null;
  private readonly patience: number;

  constructor(private readonly access: Access) {
    this.patience = access.patience ?? 5000;
    this.client = this.makeClient();
  }

  private makeClient(): InfluxDB {
    const { url, database } = this.access;
    const { login } = this;
    const secure = url.protocol === 'https:';
    return new InfluxDB({
      hosts: [{ host: url.hostname, port: Number(url.port) || (secure ? 443 : 80), protocol: secure ? 'https' : 'http', path: url.pathname.replace(/\/+$/, '') }],
      database,
      username: login?.username ?? '',
      password: login?.password ?? '',
      pool: { backoff: atOnce, maxRetries: 0, requestTimeout: this.patience },
    });
  }

  /** Name of the target for people: never with a login, which an address of ours does not hold. */
  get target(): string {
    return `${this.access.url.href.replace(/\/+$/, '')} (${this.access.database})`;
  }

  async prepare(): Promise<{ readonly engine: Engine } | Failure> {
    const { database, engine } = this.access;
    try {
      this.login = this.access.login();
    } catch (error) {
      return { kind: 'closed', why: error instanceof Error ? error.message : String(error) };
    }
    this.client = this.makeClient();
    if (engine === 'victoria-metrics') return { engine };
    try {
      await this.inTime(this.client.createDatabase(database));
    } catch (error) {
      const answer = verdictOn(error);
      // A login that may only write cannot make a database, and need not: it is there then, or the first write says so.
      if (answer.kind !== 'closed') return answer.kind === 'refused' ? { kind: 'later', why: answer.why } : answer;
    }
    if (engine !== undefined) return { engine };
    try {
      const names = await this.inTime(this.client.getDatabaseNames());
      // VictoriaMetrics says yes to every statement, and has one database of this name whatever was made.
      return { engine: names.length === 1 && names[0] === '_internal' && database !== '_internal' ? 'victoria-metrics' : 'influxdb' };
    } catch (error) {
      const answer = verdictOn(error);
      return answer.kind === 'closed' || answer.kind === 'refused' ? { engine: 'influxdb' } : answer;
    }
  }

  async write(lines: readonly string[], engine: Engine): Promise<Answer> {
    const { precision } = resolutionOf(engine);
    const body = lines.join('\n');
    try {
      // The client writes a measurement as it is given, and a point without tags and fields is nothing else: so our own
      // lines go out as they are. Its own lines spoil names with \' in them and take twice the time.
      await this.inTime(this.client.writePoints([{ measurement: body }], { precision }));
      return { kind: 'delivered' };
    } catch (error) {
      const answer = verdictOn(error);
      return answer.kind === 'later' && answer.fault === true ? this.listen(body, precision) : answer;
    }
  }

  /**
   * The client throws the words of a 5xx away, and some servers refuse points that they will never take with one: the
   * same points are sent once more to hear them. Points that were taken meanwhile are the same points.
   */
  private async listen(body: string, precision: 'u' | 'ms'): Promise<Answer> {
    const { url, database } = this.access;
    const { login } = this;
    const query = new URLSearchParams({ db: database, precision });
    const headers: Record<string, string> = login === null ? {} : { authorization: `Basic ${Buffer.from(`${login.username}:${login.password}`).toString('base64')}` };
    try {
      const response = await fetch(`${url.href.replace(/\/+$/, '')}/write?${query.toString()}`, { method: 'POST', body, headers, signal: AbortSignal.timeout(this.patience) });
      const words = (await response.text()).slice(0, 2000);
      if (response.ok) return { kind: 'delivered' };
      return verdictOn(new Error(`A ${response.status} ${response.statusText} error occurred: ${words}`));
    } catch (error) {
      return verdictOn(error);
    }
  }

  /** The client never settles when a connection ends within an answer. */
  private inTime<T>(asked: Promise<T>): Promise<T> {
    return new Promise((resolve, reject) => {
      const deadline = setTimeout(() => {
        reject(new Error('Request timed out'));
      }, this.patience * 2);
      asked.then(resolve, reject).finally(() => {
        clearTimeout(deadline);
      });
    });
  }
}
