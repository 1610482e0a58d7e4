import type Database from 'better-sqlite3';
import { DamagedBlock, type Samples } from './block-codec.js';
import { longestBlock, type BlockRow, type BlockTable } from './block-table.js';
import type { Channels } from './channels.js';
import { summariesOf } from './summary.js';

/** What may be given up to keep room. Nothing is by default. */
export interface RetentionRules {
  /** s; samples outside runs are removed once they are older. */
  readonly keepIdle?: number | undefined;
  /** s; samples of sealed runs are removed once the run is older. Its record and seal stay. */
  readonly keepRuns?: number | undefined;
  /** bytes; above it the oldest samples outside runs are removed, whatever their age. */
  readonly storeAtMost?: number | undefined;
}

export interface RetentionSetup {
  readonly db: Database.Database;
  readonly blocks: BlockTable;
  readonly channels: Channels;
  readonly rules: RetentionRules;
  /** ms since 1970. */
  readonly now: () => number;
  /** s on the store's clock: what a channel holds from there on somebody still needs. */
  readonly neededFrom: (channel: number) => number;
  /** Says in the ledger, sealed, that the trace of a run is given up. */
  readonly giveUp: (run: number, why: string) => void;
}

/** s before and after a run that stay with it: a reader needs some idle time to come to the same outcome. */
const margin = 120;
/** s: nothing newer is ever removed. */
const alwaysKept = 3600;
/** ms: after the calendar has jumped by more, ages cannot be trusted before somebody may have seen to it. */
const jump = 40 * 86_400_000;
const distrust = 7 * 86_400_000;
/** Pages given back to the disk in one step. */
const pagesBack = 256;

/** Keeps the store within its bounds, a block at a time. Each step is one transaction; a power cut leaves all or nothing of it. */
export class Retention {
  private readonly next;
  private readonly factOf;
  private readonly keepFact;
  private readonly runs;
  private readonly agedRun;

  constructor(private readonly setup: RetentionSetup) {
    const { db } = setup;
    this.factOf = db.prepare<[string], string>('SELECT value FROM facts WHERE key = ?').pluck();
    this.keepFact = db.prepare<[string, string]>('INSERT INTO facts (key, value) VALUES (?, ?) ON CONFLICT (key) DO UPDATE SET value = excluded.value');
    this.next = db.prepare<[number, number], BlockRow>(
      `SELECT id, segment, position, count, tier, earliest, latest FROM blocks WHERE channel = ? AND earliest > ? ORDER BY earliest, position LIMIT 1`,
    );
    this.runs = db.prepare<[{ channel: number; from: number; to: number }], { from: number; to: number | null }>(
      `SELECT min(started, coalesce(read_from, started)) AS "from", CASE state WHEN 'open' THEN NULL ELSE max(ended, coalesce(read_to, ended)) END AS "to"
         FROM runs WHERE channel = @channel AND min(started, coalesce(read_from, started)) <= @to
           AND (state = 'open' OR max(ended, coalesce(read_to, ended)) >= @from)
           AND number NOT IN (SELECT run FROM entries WHERE kind = 'trace-removed')`,
    );
    this.agedRun = db.prepare<[{ before: number }], { number: number; channel: number; from: number }>(
      `SELECT number, channel, min(started, coalesce(read_from, started)) AS "from" FROM runs INDEXED BY runs_by_wall
         WHERE started_wall < @before AND ended_wall < @before AND state <> 'open' AND number NOT IN (SELECT run FROM entries WHERE kind = 'trace-removed')
         ORDER BY started_wall LIMIT 1`,
    );
  }

  /** Does a little of what is due. @returns whether there may be more to do. */
  step(): boolean {
    const trusted = this.ageIsTrusted();
    if (trusted && this.giveUpAgedRun()) return true;
    const full = this.isTooLarge();
    for (const { id } of this.setup.channels.list()) if (this.stepChannel(id, trusted, full)) return true;
    return this.giveBack();
  }

  /** bytes of the file that hold something. */
  used(): number {
    const { db } = this.setup;
    const value = (pragma: string) => Number(db.pragma(pragma, { simple: true }));
    return (value('page_count') - value('freelist_count')) * value('page_size');
  }

  private isTooLarge(): boolean {
    const { storeAtMost } = this.setup.rules;
    return storeAtMost !== undefined && this.used() > storeAtMost;
  }

  /** A computer that lost its calendar must not make everything look a century old. */
  private ageIsTrusted(): boolean {
    const now = this.setup.now();
    const [seen, since] = (this.fact('retention seen') ?? '').split(' ').map(Number);
    const jumped = seen !== undefined && seen > 0 && (now - seen > jump || now < seen - jump);
    const distrusted = jumped ? now : (since ?? 0);
    if (seen === undefined || jumped || Math.abs(now - seen) > 3_600_000) this.keepFact.run('retention seen', `${now} ${distrusted}`);
    return now - distrusted > distrust || distrusted === 0;
  }

  private giveUpAgedRun(): boolean {
    const { rules, now, giveUp } = this.setup;
    if (rules.keepRuns === undefined) return false;
    const run = this.agedRun.get({ before: now() - rules.keepRuns * 1000 });
    if (!run || run.from >= this.setup.neededFrom(run.channel)) return false;
    giveUp(run.number, `older than ${Math.round(rules.keepRuns / 86_400)} days, as the bench file says`);
    // What lies there is looked at once more, now that the run no longer needs it.
    this.keepFact.run(placeOf(run.channel), String(Math.min(this.place(run.channel), run.from - longestBlock - margin)));
    return true;
  }

  private stepChannel(channel: number, trusted: boolean, full: boolean): boolean {
    const { rules, channels, blocks, now } = this.setup;
    const newest = blocks.newestTime(channel);
    const block = this.next.get(channel, this.place(channel));
    // The newest block stays in any case: the channel's count of samples goes on from it.
    if (newest === null || !block || block.latest > newest - alwaysKept) return false;
    const age = now() - (channels.wallOf(channel, block.latest) ?? now());
    const aged = trusted && rules.keepIdle !== undefined && age > rules.keepIdle * 1000 && block.latest < this.setup.neededFrom(channel);
    if (!aged && !full) return false;
    this.setup.db
      .transaction(() => {
        this.prune(channel, block);
        this.keepFact.run(placeOf(channel), String(block.earliest));
      })
      .immediate();
    return true;
  }

  /** Takes out of a block what no run needs. A block that cannot be read stays as it is. */
  private prune(channel: number, block: BlockRow): void {
    const { blocks } = this.setup;
    const needed = this.runs.all({ channel, from: block.earliest - margin, to: block.latest + margin });
    const keeps = (time: number) => needed.some(({ from, to }) => time >= from - margin && time <= (to ?? Infinity) + margin);
    if (needed.length === 0) {
      blocks.remove(block.id);
      return;
    }
    let samples: Samples;
    try {
      samples = blocks.samples(block.id);
    } catch (error) {
      if (error instanceof DamagedBlock) return;
      throw error;
    }
    const pieces = stretchesWhere(samples.time, keeps);
    if (pieces.length === 1 && pieces[0]?.from === 0 && pieces[0].to === samples.time.length) return;
    blocks.remove(block.id);
    for (const { from, to } of pieces) {
      const piece: Samples = {
        time: samples.time.slice(from, to), pressure: samples.pressure.slice(from, to),
        flags: samples.flags.slice(from, to), raw: samples.raw?.slice(from, to) ?? null,
      };
      blocks.insert({ channel, segment: block.segment, position: block.position + from, tier: 2 }, piece, undefined, summariesOf(piece));
    }
  }

  /** Gives pages that hold nothing back to the disk, when there are many: some are wanted for what comes next. */
  private giveBack(): boolean {
    const { db } = this.setup;
    const free = Number(db.pragma('freelist_count', { simple: true }));
    if (free < pagesBack * 2 || free < Number(db.pragma('page_count', { simple: true })) / 20) return false;
    db.pragma(`incremental_vacuum(${pagesBack})`);
    return Number(db.pragma('freelist_count', { simple: true })) < free;
  }

  /** s: blocks that begin up to here have been looked at. */
  private place(channel: number): number {
    return Number(this.fact(placeOf(channel)) ?? -1e15);
  }

  private fact(key: string): string | null {
    return this.factOf.get(key) ?? null;
  }
}

const placeOf = (channel: number): string => `idle removed up to, channel ${channel}`;

/** Runs of samples that are kept, by their numbers in the block: from, to before `to`. */
function stretchesWhere(time: Float64Array, keeps: (time: number) => boolean): { from: number; to: number }[] {
  const found: { from: number; to: number }[] = [];
  let from = -1;
  for (let i = 0; i <= time.length; i++) {
    const kept = i < time.length && keeps(time[i]!);
    if (kept && from < 0) from = i;
    if (!kept && from >= 0) {
      found.push({ from, to: i });
      from = -1;
    }
  }
  return found;
}
