import type { Thresholds } from '../../src/core/thresholds.js';
import type { FlipRow } from './flip-panel.js';
import type { ReadingClient } from './reading-client.js';
import { zeroOf, type LoadedRun } from './reading-messages.js';
import { readFiles, type GivenFile } from './run-files.js';
import { idOf, RunShelf } from './run-shelf.js';
import { RunTray, type TrayRun } from './run-tray.js';
import type { TuningApi } from './tuning-api.js';

export interface RunDeskActs {
  /** Another run is loaded and to be shown. */
  show(id: string): void;
  /** Which of the ticked runs are loaded may have changed. */
  sweep(): void;
  /** What people said of a run on record. */
  truth(id: string, truth: FlipRow['truth']): void;
  /** `null`: what was said before no longer holds. */
  trouble(what: unknown): void;
}

/** The runs that thresholds and plans are tried on: listed, from files, ticked, loaded, and the one that is shown. */
export class RunDesk {
  private readonly shelf: RunShelf;
  private readonly picked = new Set<string>();
  private readonly list: RunTray;
  private tray: readonly TrayRun[] = [];
  private more: number | null = null;
  private shownId: string | null = null;

  /** @param inForce by which traces from files count as judged */
  constructor(private readonly api: TuningApi, client: ReadingClient, private readonly inForce: () => Thresholds, private readonly acts: RunDeskActs) {
    this.shelf = new RunShelf(api, client);
    this.list = new RunTray({
      show: (id) => void this.show(id),
      pick: (ids, on) => this.pick(ids, on),
      pickOnly: (ids) => {
        this.picked.clear();
        this.pick(ids, true);
      },
      older: () => void this.fetch(),
    });
  }

  /** Lists the newest runs and shows the first that can be read. */
  async start(): Promise<void> {
    await this.fetch();
    const newest = this.tray.find(({ readable }) => readable);
    if (newest !== undefined) await this.show(newest.id);
  }

  /** The run that is shown, once it is loaded. */
  get shown(): LoadedRun | null {
    return this.shownId === null ? null : this.shelf.get(this.shownId);
  }

  /** Ticked runs that are loaded. */
  get loadedPicks(): string[] {
    return [...this.picked].filter((id) => this.shelf.has(id));
  }

  /** Loads a run, shows and ticks it; nothing where another was asked for meanwhile. */
  async show(id: string): Promise<void> {
    this.shownId = id;
    this.draw();
    if (!(await this.load(id)) || this.shownId !== id) return;
    this.acts.show(id);
    if (!this.picked.has(id)) this.pick([id], true);
  }

  /** Takes traces from files, ticks all and shows the first. */
  async takeFiles(files: readonly File[]): Promise<void> {
    if (files.length === 0) return;
    const given = files.map((file): GivenFile => ({ name: file.name, bytes: async () => new Uint8Array(await file.arrayBuffer()) }));
    const { runs, problems } = await readFiles(given, this.inForce());
    this.acts.trouble(problems.length === 0 ? null : problems.join('\n'));
    for (const run of runs) {
      try {
        this.shelf.hold(run);
      } catch (error) {
        this.acts.trouble(error);
        continue;
      }
      this.tray = [{ id: run.id, title: run.id, wall: null, verdict: null, about: `${run.plan?.plan ?? 'no plan'} · from a file`, readable: true }, ...this.tray.filter(({ id }) => id !== run.id)];
      this.picked.add(run.id);
    }
    const [first] = runs;
    if (first === undefined) return this.draw();
    this.acts.sweep();
    await this.show(first.id);
  }

  /** s, the zero of shown times; `null` where it is not loaded. */
  startOf(id: string): number | null {
    const run = this.shelf.get(id);
    return run === null ? null : zeroOf(run);
  }

  titleOf(id: string): string {
    return this.tray.find((run) => run.id === id)?.title ?? id.replace(/^r/, 'R');
  }

  draw(): void {
    this.list.draw(this.tray, this.picked, this.shelf.loading, this.shownId, this.more !== null);
  }

  private async fetch(): Promise<void> {
    try {
      const { runs, more } = await this.api.runs(this.more);
      this.more = more;
      this.tray = [
        ...this.tray,
        ...runs.map(({ run, wall, verdict, plan, hose, order, truth, readable }): TrayRun => {
          this.acts.truth(idOf(run), truth);
          return { id: idOf(run), title: `Run ${run}`, wall, verdict, about: [plan ?? 'no plan', hose, order === null ? null : `order ${order}`].filter((word) => word !== null).join(' · '), readable };
        }),
      ];
    } catch (error) {
      this.acts.trouble(error);
    }
    this.draw();
  }

  /** @returns whether it is loaded */
  private async load(id: string): Promise<boolean> {
    const loaded = this.shelf.load(id);
    this.draw();
    try {
      return await loaded;
    } catch (error) {
      this.picked.delete(id);
      this.acts.trouble(error);
      return false;
    } finally {
      this.draw();
    }
  }

  private pick(ids: readonly string[], on: boolean): void {
    for (const id of ids) {
      if (on) this.picked.add(id);
      else this.picked.delete(id);
    }
    this.draw();
    this.acts.sweep();
    if (on) void this.loadPicked();
  }

  /** One after the other, so that the bench is not asked for all at once. */
  private async loadPicked(): Promise<void> {
    for (const id of [...this.picked]) {
      if (!this.picked.has(id) || this.shelf.has(id)) continue;
      if (await this.load(id)) this.acts.sweep();
    }
  }
}
