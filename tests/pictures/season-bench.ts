import { join } from 'node:path';
import { documentMaker } from '../../src/certificate/document-maker.js';
import { JobDesk } from '../../src/daemon/job-desk.js';
import { storeHistory } from '../../src/history/store-history.js';
import { openStore } from '../../src/records/store.js';
import { historyRoutes } from '../../src/server/history-routes.js';
import { HttpServer } from '../../src/server/http-server.js';
import { operatorRoutes } from '../../src/server/operator-routes.js';
import { bench, hose, recordSeason, season } from '../history/season.js';
import { ScriptedFeed } from '../server/scripted-feed.js';
import type { DemoBench } from './demo-bench.js';

/** A store with a season of runs behind the built pages. */
export async function seasonBench(folder: string): Promise<DemoBench> {
  const path = join(folder, 'season.sqlite');
  const { store } = openStore(path, { software: 'dwellkeeper' });
  recordSeason(store, [...season(45), { verdict: 'fail', leak: 6.4, job: { order: 'A-145', customer: 'Example Farm', hose, assemblies: ['H-45'], operator: 'J. Doe' } }]);
  store.compact();
  const desk = new JobDesk(
    { name: bench, records: store, openRun: null, running: false, jobChanged: () => undefined, runsChanged: () => undefined },
    documentMaker({ store: path, software: 'dwellkeeper', shop: { name: null, address: [], logo: null, paper: 'A4', zone: 'UTC' } }),
  );
  const history = storeHistory({ store: path, software: 'dwellkeeper' });
  const server = await HttpServer.start({
    benches: [new ScriptedFeed(bench)], pages: join(process.cwd(), 'dist', 'pages'),
    routes: (app) => {
      operatorRoutes(app, [desk]);
      historyRoutes(app, [{ bench, history }]);
    },
  });
  return {
    address: server.address,
    stop: async () => {
      await server.close();
      await history.close();
      store.close();
    },
  };
}
