import type Database from 'better-sqlite3';

/** One measured input of a bench. */
export interface Channel {
  readonly id: number;
  readonly bench: string;
  readonly name: string;
  /** Unit of the raw readings, as the instrument sends them. */
  readonly unit: string;
}

/** Where the store's clock met the wall clock. */
export interface Anchor {
  /** s on the store's clock. */
  readonly time: number;
  /** The wall clock then, ms since 1970 (UTC). */
  readonly wall: number;
}

/** Benches, their channels, and the stretches of recording of each. */
export class Channels {
  private readonly before;
  private readonly first;
  private readonly within;

  constructor(private readonly db: Database.Database) {
    const anchors = 'SELECT time, wall FROM segments WHERE channel = ?';
    this.before = db.prepare<[number, number], Anchor>(`${anchors} AND time <= ? ORDER BY time DESC, id DESC LIMIT 1`);
    this.first = db.prepare<[number], Anchor>(`${anchors} ORDER BY time, id LIMIT 1`);
    this.within = db.prepare<[number, number, number], Anchor>(`${anchors} AND time BETWEEN ? AND ? ORDER BY time, id`);
  }

  /** The channel of that name, made when it is new. The unit of a known one is left as it is. */
  keep(bench: string, name: string, unit: string): Channel {
    this.db.prepare('INSERT INTO channels (bench, name, unit) VALUES (?, ?, ?) ON CONFLICT DO NOTHING').run(bench, name, unit);
    const channel = this.db
      .prepare<[string, string], Channel>('SELECT id, bench, name, unit FROM channels WHERE bench = ? AND name = ?')
      .get(bench, name);
    if (!channel) throw new Error(`channel ${name} of bench ${bench} was not stored`);
    return channel;
  }

  /** A channel known from a file before this one, under the same id. */
  restore({ id, bench, name, unit }: Channel): void {
    this.db.prepare('INSERT INTO channels (id, bench, name, unit) VALUES (?, ?, ?, ?) ON CONFLICT DO NOTHING').run(id, bench, name, unit);
  }

  list(): Channel[] {
    return this.db.prepare<[], Channel>('SELECT id, bench, name, unit FROM channels ORDER BY id').all();
  }

  get(id: number): Channel | null {
    return this.db.prepare<[number], Channel>('SELECT id, bench, name, unit FROM channels WHERE id = ?').get(id) ?? null;
  }

  /** @returns the segment's id. */
  beginSegment(channel: number, { time, wall }: Anchor): number {
    return Number(this.db.prepare('INSERT INTO segments (channel, time, wall) VALUES (?, ?, ?)').run(channel, time, wall).lastInsertRowid);
  }

  /** The anchors in force from `from` to `to` (s): the last one before, and those between. */
  anchorsWithin(channel: number, from: number, to: number): Anchor[] {
    return this.within.all(channel, this.before.get(channel, from)?.time ?? from, to);
  }

  /** The wall clock (ms since 1970) at a time of the store's clock (s); `null` before any recording. */
  wallOf(channel: number, time: number): number | null {
    const anchor = this.before.get(channel, time) ?? this.first.get(channel);
    return anchor ? anchor.wall + (time - anchor.time) * 1000 : null;
  }
}
