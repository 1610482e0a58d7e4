import { spawn } from 'node:child_process';
import { createServer, type AddressInfo } from 'node:net';
import { join } from 'node:path';
import { setTimeout as delay } from 'node:timers/promises';

/** A running `demo`. */
export interface DemoBench {
  readonly address: string;
  stop(): Promise<void>;
}

/** Invented orders of an invented shop, one for each run. */
const jobs = [
  { order: 'A-2207', customer: 'Example Farm', hose: 'two-wire DN12', assemblies: 'A17-001..003', operator: 'J. Doe', responsible: 'M. Roe', medium: 'water' },
  { order: 'A-2208', customer: 'Harbour Crane Works', hose: 'two-wire DN12', assemblies: 'A17-004..005', operator: 'J. Doe', responsible: 'M. Roe', medium: 'water' },
] as const;

/** Starts the command and waits until so many runs are over, each with a job. */
export async function demoBench(folder: string, runs: number, tell: (text: string) => void): Promise<DemoBench> {
  const port = await freePort();
  const program = spawn(process.execPath, ['src/setup/dwellkeeper.mjs', 'demo', '--port', String(port), '--store', join(folder, 'demo.sqlite')], { stdio: ['ignore', 'ignore', 'inherit'] });
  const ended = new Promise<void>((resolve) => program.once('exit', () => resolve()));
  const address = `http://127.0.0.1:${port}`;
  const stop = async (): Promise<void> => {
    program.kill('SIGINT');
    await ended;
  };
  const bench = `${address}/api/benches/${encodeURIComponent('demo bench')}`;
  const finished = async (): Promise<number> => {
    const answer = await fetch(`${bench}/runs`).catch(() => null);
    const list: unknown = answer?.ok === true ? await answer.json() : [];
    return Array.isArray(list) ? list.length : 0;
  };
  for (let keyed = 0, done = 0, began = performance.now(); done < runs; done = await finished()) {
    if (program.exitCode !== null || performance.now() - began > 300_000 * runs) {
      await stop();
      throw new Error('the demo does not get on; look at what it says');
    }
    if (keyed <= done && (await keyIn(bench, jobs[keyed % jobs.length] ?? jobs[0]))) tell(`run ${++keyed} of the demo has its job`);
    await delay(500);
  }
  await changePlan(bench);
  return { address, stop };
}

async function keyIn(bench: string, job: (typeof jobs)[number]): Promise<boolean> {
  const answer = await fetch(`${bench}/job`, { method: 'PUT', headers: { 'content-type': 'application/json' }, body: JSON.stringify({ job, who: job.operator }) }).catch(() => null);
  return answer?.ok === true;
}

/** One change of a plan that no run is judged by, for the page of the changes. */
async function changePlan(bench: string): Promise<void> {
  const body = { base: 1, changes: { holdTime: '90 s' }, who: 'M. Roe', why: 'the customer asks for a longer hold' };
  const answer = await fetch(`${bench}/plans/iso-1436-2sn-dn12`, { method: 'PUT', headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) });
  if (!answer.ok) throw new Error(`the plan was not changed: ${await answer.text()}`);
  // The page tells it once the daemon has looked at its plans again.
  await delay(5000);
}

function freePort(): Promise<number> {
  return new Promise((resolve) => {
    const probe = createServer().listen(0, '127.0.0.1', () => {
      const { port } = probe.address() as AddressInfo;
      probe.close(() => resolve(port));
    });
  });
}
