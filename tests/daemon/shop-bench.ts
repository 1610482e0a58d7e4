import { mkdirSync, utimesSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { parseBench, type Bench } from '../../src/acquisition/bench-file.js';
import type { parsePlan } from '../../src/core/plan.js';
import { readThresholds, readPlan, type JudgingSetup } from '../../src/daemon/bench-setup.js';
import type { BenchSetupDesk } from '../../src/daemon/setup-desk.js';
import { setupDeskOf } from '../../src/daemon/setup-desk-of.js';
import { HandBench, judgingBy } from './hand-bench.js';

export const planText = (name: string, hold = '3 s', more = ''): string => `plan: ${name}\ntestPressure: 550 bar\nholdTime: ${hold}\nminimumPressure: 530 bar\nceilingPressure: 600 bar\n${more}`;
const thresholdsText = 'thresholds: quick\nquietTime: 1 s\nsettleWindow: 2 s\nsettleTimeout: 10 s\nrunEnd: 2 s\n';

/** A bench moved by hand, with a plan and thresholds in files and a folder of plans. */
export class ShopBench {
  readonly hand: HandBench;
  desk: BenchSetupDesk;
  readonly told: JudgingSetup[] = [];
  bench!: Bench;
  private writes = 0;

  /** @param channel more of the channel; @param texts other files for plan and thresholds */
  constructor(
    private readonly keys: Record<string, unknown> = { plan: 'plan.yaml', thresholds: 'thresholds.yaml' },
    channel: Record<string, unknown> = {},
    texts: { readonly plan?: string; readonly thresholds?: string } = {},
  ) {
    this.hand = new HandBench(judgingBy(), channel);
    mkdirSync(join(this.hand.folder, 'plans'));
    this.write('plan.yaml', texts.plan ?? planText('short proof'));
    if (keys['thresholds'] !== undefined) this.write('thresholds.yaml', texts.thresholds ?? thresholdsText);
    this.desk = this.makeDesk();
  }

  start(): void {
    this.desk.prepare();
    this.hand.daemon.start();
    this.desk.begin();
    this.hand.ramp(0, 0, 2);
  }

  restart(keys = this.keys): void {
    this.hand.daemon.stop();
    this.hand.restart();
    this.desk = this.makeDesk(keys);
    this.desk.prepare();
    this.desk.begin();
    this.hand.ramp(0, 0, 2);
  }

  path(name: string): string {
    return join(this.hand.folder, name);
  }

  /** Each write gets a time of its own, as a person's would. */
  write(name: string, text: string): void {
    writeFileSync(this.path(name), text);
    this.writes += 2;
    utimesSync(this.path(name), 1_700_000_000 + this.writes, 1_700_000_000 + this.writes);
  }

  /** Name of the plan and its hold (s), run by run. */
  judgedBy(): (string | null)[] {
    return this.hand.stored((store) =>
      store.listRuns({ limit: 50 }).map(({ number }) => {
        const hash = store.getRun(number)?.plan;
        if (hash == null) return null;
        const content = store.versions.get(hash)?.content as ReturnType<typeof parsePlan>;
        return `${content.plan} ${content.holdTime} s`;
      }).reverse(),
    );
  }

  notices(): string[] {
    return this.hand.daemon.feed.health().notices.map(({ text }) => text);
  }

  /** A plan or the thresholds were saved past the routes. */
  savedByHand(): void {
    for (const { file } of this.desk.library.plans()) this.desk.library.reread(file);
    this.desk.saved();
  }

  private makeDesk(keys = this.keys): BenchSetupDesk {
    const bench = (this.bench = parseBench(
      { bench: 'north bench', store: this.path('records.sqlite'), channels: [{ input: { driver: 'serial-line', path: '/dev/ttyS9' }, unit: 'bar', range: { upper: '1000 bar' } }], ...keys },
      this.path('bench.yaml'),
    ));
    const files: JudgingSetup = {
      plan: bench.plan === undefined ? null : readPlan(bench.plan),
      thresholds: bench.thresholds === undefined ? judgingBy().thresholds : readThresholds(bench.thresholds),
    };
    this.hand.daemon.use(files);
    return setupDeskOf(this.hand.daemon, bench, files, (judging) => this.told.push(judging), () => this.hand.at.wall);
  }

  clear(): void {
    this.hand.clear();
  }
}
