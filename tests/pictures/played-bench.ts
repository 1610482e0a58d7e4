import { join } from 'node:path';
import { demoPlan, demoPlaylist, demoThresholds } from '../../simulators/player.js';
import { run as playOf } from '../../simulators/run-scenario.js';
import { documentMaker } from '../../src/certificate/document-maker.js';
import { parsePlan } from '../../src/core/plan.js';
import { parseThresholds } from '../../src/core/thresholds.js';
import { deskOf } from '../../src/daemon/desk-of.js';
import { storeHistory } from '../../src/history/store-history.js';
import { parseJob } from '../../src/records/job.js';
import { historyRoutes } from '../../src/server/history-routes.js';
import { HttpServer } from '../../src/server/http-server.js';
import { operatorRoutes } from '../../src/server/operator-routes.js';
import { HandBench } from '../daemon/hand-bench.js';
import type { DemoBench } from './demo-bench.js';

const shop = { name: 'Meadow Lane Hydraulics', address: [], logo: null, paper: 'A4', zone: 'UTC' } as const;
/** Invented orders of an invented shop, one for each run. */
const jobs = [
  { order: 'A-2207', customer: 'Example Farm', assemblies: 'A17-001..003' },
  { order: 'A-2208', customer: 'Harbour Crane Works', assemblies: 'A17-004..005' },
  { order: 'A-2209', customer: 'Example Farm', assemblies: 'A17-006' },
].map((job) => parseJob({ ...job, hose: 'two-wire DN12', operator: 'J. Doe', responsible: 'M. Roe', medium: 'water' }));

/**
 * A simulated bench whose clock is moved by hand, so that a slow machine draws the same picture as a fast one: two runs
 * that are over, and one in the middle of its hold.
 */
export async function playedBench(): Promise<DemoBench> {
  const bench = new HandBench({ plan: { value: parsePlan(demoPlan, 'plan'), text: null }, thresholds: { value: parseThresholds(demoThresholds, 'thresholds'), text: null } }, { accuracyClass: 0.25 });
  const store = join(bench.folder, 'records.sqlite');
  const desk = deskOf(bench.daemon, documentMaker({ store, software: 'dwellkeeper', shop }), shop.zone, () => bench.at.wall);
  const history = storeHistory({ store, software: 'dwellkeeper' });
  const server = await HttpServer.start({
    benches: [bench.daemon.feed], pages: join(process.cwd(), 'dist', 'pages'),
    routes: (app) => {
      operatorRoutes(app, [desk]);
      historyRoutes(app, [{ bench: bench.daemon.feed.name, history }]);
    },
  });
  bench.daemon.start();
  const play = (index: number, seed: number, enough: () => boolean): void => {
    const scenario = demoPlaylist[index];
    if (scenario === undefined) throw new Error(`the demo has no run ${index}`);
    const { samples } = playOf(scenario, seed);
    let before = samples.time[0] ?? 0;
    for (let i = 0; i < samples.time.length && !enough(); i++) {
      const time = samples.time[i] ?? before;
      bench.wait(time - before);
      before = time;
      bench.line((samples.pressure[i] ?? 0).toFixed(2));
    }
  };
  for (const [i, job] of jobs.entries()) {
    desk.keyIn(job, { who: 'J. Doe' });
    const last = i === jobs.length - 1;
    play(last ? 0 : i, last ? 2 : 1, () => last && (bench.daemon.feed.view().holdLeft ?? Infinity) < 8);
    if (!last) bench.ramp(0, 0, 6);
  }
  desk.say(1, { kind: 'visual-finding', finding: 'no leakage seen' }, { who: 'J. Doe' });
  return {
    address: server.address,
    stop: async () => {
      await server.close();
      await history.close();
      bench.clear();
    },
  };
}
