import type { FastifyInstance } from 'fastify';
import type { Logger } from 'pino';
import type { Wiring } from '../../drivers/wiring.js';
import type { KnownPerson } from '../access/people.js';
import type { TlsPair } from '../access/tls-files.js';
import type { Bench } from '../acquisition/bench-file.js';
import { localZone } from '../acquisition/calibration-due.js';
import { DocumentThread } from '../certificate/document-thread.js';
import { shopOf } from '../certificate/shop.js';
import { InputError } from '../core/problems.js';
import { isLost, type LastGood } from '../files/last-good.js';
import { HistoryThread } from '../history/history-thread.js';
import { refuseForeignFile } from '../records/foreign-file.js';
import { auditRoutes } from '../server/audit-routes.js';
import { compareRoutes } from '../server/compare-routes.js';
import { descriptionRoutes } from '../server/description-routes.js';
import { healthRoutes } from '../server/health-routes.js';
import { historyRoutes } from '../server/history-routes.js';
import { HttpServer, type HttpServerOptions } from '../server/http-server.js';
import { labelRoutes } from '../server/label-routes.js';
import { libraryRoutes } from '../server/library-routes.js';
import { operatorRoutes } from '../server/operator-routes.js';
import { tuningRoutes, type TuningSource } from '../server/tuning-routes.js';
import { ownSubject } from '../sinks/alerts/alert-rules.js';
import type { AlertSettings } from '../sinks/alerts/alert-settings.js';
import { Alerts, waysOf } from '../sinks/alerts/alerts.js';
import { BenchForwarding, loginOf } from '../sinks/influx/forward-bench.js';
import type { InfluxSettings } from '../sinks/influx/settings.js';
import { SelfWatch } from '../watch/self-watch.js';
import { BenchDaemon } from './bench-daemon.js';
import { BenchChanges } from './bench-changes.js';
import { BenchDoor } from './bench-door.js';
import type { BenchFiles } from './bench-setup.js';
import { deskOf } from './desk-of.js';
import { probeLink } from './probe-link.js';
import type { BenchSetupDesk } from './setup-desk.js';
import { setupDeskOf } from './setup-desk-of.js';

export interface RunningBenchOptions {
  readonly files: BenchFiles;
  /** Name of the bench file, for sentences. */
  readonly source: string;
  readonly wiring: Wiring;
  readonly log: Logger;
  readonly software: string;
  /** Folder of the built pages. */
  readonly pages: string;
  /** Begin even though the instrument is not there yet. */
  readonly wait: boolean;
  /** Where copies of good settings are kept. */
  readonly lastGood?: LastGood;
  /** Hears of every route of the page's server as it is made. */
  readonly routeMade?: HttpServerOptions['routeMade'];
  /** Take any free port where the wanted one is taken. */
  readonly anyPort?: boolean;
}

/** ms between two looks at the plan and thresholds files. */
const lookEvery = 1000;

/** A daemon with its page, checked and started. */
export class RunningBench {
  private constructor(
    readonly daemon: BenchDaemon,
    /** Of the page: `http://127.0.0.1:8460`. */
    readonly address: string,
    /** Health, metrics and a line of status. */
    readonly self: SelfWatch,
    private readonly alerts: Alerts | null,
    private readonly forwarding: BenchForwarding | null,
    private readonly server: HttpServer,
    private readonly watching: NodeJS.Timeout,
    private readonly documents: DocumentThread,
    private readonly history: HistoryThread,
  ) {}

  /**
   * Checks everything that a person would have to correct, then starts: instrument, page, store, in this order, so
   * that nothing is written when something is wrong.
   * @throws InputError
   */
  static async start(options: RunningBenchOptions): Promise<RunningBench> {
    const { files, source, wiring, log, software } = options;
    const { bench } = files;
    refuseForeignFile(bench.store);
    if (bench.influx !== undefined) loginOf(bench.influx, source);
    const shop = shopOf(bench.shop, localZone(), source);
    if (!options.wait) for (const link of bench.links) await probeLink(link, wiring, source);
    const daemon = new BenchDaemon({ bench, judging: files, wiring, log, software, ...(files.signer && { signer: files.signer }) });
    const alerts = bench.alerts === undefined ? null : alertsOf(daemon, bench.name, bench.alerts, options);
    let viewers = () => 0;
    let forwarding: BenchForwarding | null = null;
    const self = new SelfWatch({
      bench: {
        feed: daemon.feed, channels: bench.channels, store: bench.store,
        listen: (listener) => daemon.listen(listener),
      },
      version: software.split(' ').at(-1) ?? software,
      notice: (text) => daemon.notice('stall', text),
      viewers: () => viewers(),
      forwarders: () => (forwarding === null ? [] : [forwarding.state()]),
      ...(alerts && { alerts: () => ({ ways: alerts.counts(), held: alerts.held }) }),
    });
    const documents = new DocumentThread({ store: bench.store, software, shop });
    const keepGood = () => options.lastGood?.keepAll(files.files, (path, error) => log.warn({ err: error }, `no copy of ${path} can be kept`));
    const setup = setupDeskOf(daemon, bench, files, (judging) => {
      if (!files.files.some(isLost)) daemon.notice('settings', null);
      keepGood();
      log.info({ plan: judging.plan?.value.plan ?? null, thresholds: judging.thresholds.value.thresholds }, 'plan or thresholds changed');
    });
    const desk = deskOf(daemon, documents, shop.zone, Date.now, setup.forJobs(), (note) => changes.trail.note(note));
    const history = new HistoryThread({ store: bench.store, software });
    const changes = changesOf(daemon, bench, setup);
    const door = doorOf(daemon, options, (tls) => server.renew(tls), (people) => changes.people(people));
    const server: HttpServer = await serve(daemon, options, door, (app) => {
      healthRoutes(app, self);
      descriptionRoutes(app, software.split(' ').at(-1) ?? software);
      operatorRoutes(app, [desk]);
      libraryRoutes(app, [setup]);
      auditRoutes(app, [{ bench: bench.name, history, desk: changes.trail }]);
      historyRoutes(app, [{ bench: bench.name, history }]);
      tuningRoutes(app, [tuningSource(daemon)]);
      labelRoutes(app, [tuningSource(daemon)]);
      compareRoutes(app, [{ bench: bench.name, store: bench.store, software }]);
    });
    viewers = () => server.viewers;
    self.start();
    alerts?.start();
    try {
      setup.prepare();
      daemon.start();
      setup.begin();
      changes.begin(files.people);
      if (bench.influx !== undefined) forwarding = forwardingOf(daemon, bench.name, bench.store, bench.influx, options);
    } catch (error) {
      daemon.stop();
      self.stop();
      await alerts?.stop(0);
      await server.close();
      throw error;
    }
    if (files.notices.length > 0) daemon.notice('settings', files.notices.join('; '));
    keepGood();
    const watching = setInterval(() => {
      try {
        setup.poll();
        door.poll();
        changes.poll();
      } catch (error) {
        daemon.trouble(error);
      }
    }, lookEvery);
    return new RunningBench(daemon, server.address, self, alerts, forwarding, server, watching, documents, history);
  }

  /** Stops recording first, so that nothing is lost while pages say goodbye. */
  async stop(): Promise<void> {
    clearInterval(this.watching);
    this.self.stop();
    this.daemon.stop();
    await this.forwarding?.stop();
    await this.alerts?.stop();
    await this.server.close();
    await this.documents.close();
    await this.history.close();
  }
}

/** The records of the bench, whichever store is open at the moment. */
const tuningSource = (daemon: BenchDaemon): TuningSource => ({
  bench: daemon.feed.name,
  get records() {
    return daemon.records;
  },
});

function alertsOf(daemon: BenchDaemon, bench: string, settings: AlertSettings, { software, source, log }: RunningBenchOptions): Alerts {
  const notice = (text: string | null): void => {
    if (text !== null) log.warn(text);
    daemon.notice(ownSubject, text);
  };
  const alerts = new Alerts({ bench, settings, ways: waysOf(settings, software, source), notice });
  daemon.listen(alerts);
  return alerts;
}

function forwardingOf(daemon: BenchDaemon, bench: string, store: string, settings: InfluxSettings, { source, log }: RunningBenchOptions): BenchForwarding {
  const notice = (subject: string, text: string | null): void => daemon.notice(subject, text);
  return new BenchForwarding({ bench, store, settings, log, listen: (listener) => daemon.listen(listener), notice }, source);
}

const changesOf = (daemon: BenchDaemon, bench: Bench, setup: BenchSetupDesk): BenchChanges =>
  new BenchChanges({
    bench, setup,
    get records() {
      return daemon.records;
    },
    trouble: (error) => daemon.trouble(error),
  });

function doorOf(daemon: BenchDaemon, { files, source, log, lastGood }: RunningBenchOptions, renewed: (tls: TlsPair) => void, peopleChanged: (people: readonly KnownPerson[]) => void): BenchDoor {
  return new BenchDoor({
    files, source, log, renewed,
    notice: (subject, text) => daemon.notice(subject, text),
    peopleChanged: (_before, people) => {
      lastGood?.keepAll(files.files, (path, error) => log.warn({ err: error }, `no copy of ${path} can be kept`));
      peopleChanged(people);
    },
  });
}

async function serve(daemon: BenchDaemon, { files, source, pages, anyPort, routeMade }: RunningBenchOptions, { door }: BenchDoor, routes: (app: FastifyInstance) => void): Promise<HttpServer> {
  const { address, port, names } = files.bench.page;
  const options = { benches: [daemon.feed], pages, address, names, source, routes, ...(routeMade && { routeMade }), ...(door && { door }), ...(files.tls && { tls: files.tls }) };
  try {
    return await HttpServer.start({ ...options, port });
  } catch (error) {
    if (anyPort !== true || !(error instanceof InputError)) throw error;
    return HttpServer.start({ ...options, port: 0 });
  }
}
