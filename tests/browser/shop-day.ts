import type { FastifyInstance } from 'fastify';
import { stringify } from 'yaml';
import { demoPlan, demoPlaylist, demoThresholds } from '../../simulators/player.js';
import { run as runOf, scenarioNamed } from '../../simulators/run-scenario.js';
import type { Scenario } from '../../simulators/scenario.js';
import { documentMaker } from '../../src/certificate/document-maker.js';
import { BenchChanges } from '../../src/daemon/bench-changes.js';
import { deskOf } from '../../src/daemon/desk-of.js';
import { storeHistory } from '../../src/history/store-history.js';
import { auditRoutes } from '../../src/server/audit-routes.js';
import { historyRoutes } from '../../src/server/history-routes.js';
import { HttpServer } from '../../src/server/http-server.js';
import { libraryRoutes } from '../../src/server/library-routes.js';
import { operatorRoutes } from '../../src/server/operator-routes.js';
import { calibration, shop } from '../certificate/tested-bench.js';
import { ShopBench } from '../daemon/shop-bench.js';

/** Readings a second: enough for what happens on this bench, and quickly through. */
const rate = 50;

/** Everything that a shop's page has behind it: daemon, store, library, changes, history, documents. The physics come from the simulated bench, time is moved by hand. */
export class ShopDay {
  readonly shop = new ShopBench(
    { plan: 'plan.yaml', thresholds: 'thresholds.yaml' },
    // It runs out in the course of this test's first night.
    { calibration: { ...calibration, due: '2027-03-01' }, accuracyClass: 0.25 },
    { plan: stringify(demoPlan), thresholds: stringify({ ...demoThresholds, gap: '2 s' }) },
  );
  readonly history = storeHistory({ store: this.path('records.sqlite'), software: 'dwellkeeper test' });
  readonly changes: BenchChanges;
  server!: HttpServer;

  constructor() {
    const { shop: bench } = this;
    this.changes = new BenchChanges({
      bench: bench.bench, setup: bench.desk,
      get records() {
        return bench.hand.daemon.records;
      },
      trouble: (error) => bench.hand.daemon.trouble(error),
    });
  }

  async start(pages: string): Promise<void> {
    const { hand, desk: setup } = this.shop;
    const documents = documentMaker({ store: this.path('records.sqlite'), software: 'dwellkeeper test', shop });
    const desk = deskOf(hand.daemon, documents, shop.zone, () => hand.at.wall, setup.forJobs(), (note) => this.changes.trail.note(note));
    this.server = await HttpServer.start({
      benches: [hand.daemon.feed], pages,
      routes: (app: FastifyInstance) => {
        operatorRoutes(app, [desk]);
        libraryRoutes(app, [setup]);
        historyRoutes(app, [{ bench: desk.bench, history: this.history }]);
        auditRoutes(app, [{ bench: desk.bench, history: this.history, desk: this.changes.trail }]);
      },
    });
    this.shop.start();
    this.changes.begin(undefined);
  }

  path(name: string): string {
    return this.shop.path(name);
  }

  /** Plays a run of the simulated bench through the cable, as fast as the daemon takes it. @param change of the scenario */
  play(name: string, seed: number, change: (setup: ReturnType<Scenario['build']>) => ReturnType<Scenario['build']> = (setup) => setup): void {
    const scenario = demoPlaylist.find((one) => one.name === name) ?? scenarioNamed(name);
    const { samples } = runOf(
      {
        ...scenario,
        build: (random) => {
          const setup = change(scenario.build(random));
          return { ...setup, transducer: { ...setup.transducer, rate } };
        },
      },
      seed,
    );
    const { hand } = this.shop;
    let before = samples.time[0] ?? 0;
    samples.time.forEach((time, i) => {
      hand.wait(time - before);
      before = time;
      hand.line((samples.pressure[i] ?? 0).toFixed(2));
    });
    // Vented until the run is over, and until the next one is read from a fresh start.
    hand.ramp(0, 0, 36);
  }

  async stop(): Promise<void> {
    await this.server.close();
    await this.history.close();
    this.shop.clear();
  }
}
