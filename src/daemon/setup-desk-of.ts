import type { Bench } from '../acquisition/bench-file.js';
import type { BenchDaemon } from './bench-daemon.js';
import type { JudgingSetup } from './bench-setup.js';
import { BenchSetupDesk } from './setup-desk.js';

/** Plans and thresholds of a bench that a daemon watches; it listens from now on. @param told hears of what is newly in force */
export function setupDeskOf(daemon: BenchDaemon, bench: Bench, judging: JudgingSetup, told: (judging: JudgingSetup) => void, now: () => number = Date.now): BenchSetupDesk {
  const desk = new BenchSetupDesk(
    {
      bench,
      get records() {
        return daemon.records;
      },
      get running() {
        return daemon.feed.runSince() !== null;
      },
      use: (wanted) => daemon.use(wanted),
      notice: (subject, text) => daemon.notice(subject, text),
      changed: () => daemon.feed.changed(),
      told,
    },
    judging,
    now,
  );
  daemon.listen(desk);
  return desk;
}
