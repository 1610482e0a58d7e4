import type { DocumentMaker } from '../certificate/document-maker.js';
import type { AuditNote } from '../records/audit.js';
import type { BenchDaemon } from './bench-daemon.js';
import { JobDesk, type DeskBench } from './job-desk.js';

/** The desk of a bench that a daemon watches; it listens from now on. */
export function deskOf(daemon: BenchDaemon, documents: DocumentMaker, zone: string, now: () => number = Date.now, library?: Pick<DeskBench, 'planAsIn' | 'versionOf'>, changed: (note: AuditNote) => void = () => undefined): JobDesk {
  const bench = {
    name: daemon.feed.name,
    get records() {
      return daemon.records;
    },
    get openRun() {
      return daemon.openRun;
    },
    get running() {
      return daemon.feed.runSince() !== null;
    },
    changed,
    jobChanged: () => daemon.feed.changed(),
    runsChanged: () => daemon.feed.runsChanged(),
    ...library,
  };
  const desk = new JobDesk(bench, documents, now, zone);
  daemon.listen(desk);
  return desk;
}
