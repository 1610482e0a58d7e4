import { existsSync, mkdtempSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { verifyLedger } from '../../src/records/verify-ledger.js';
import { slopePerDay, soak } from './soak.js';

/** `npm run soak -- [--days 30] [--runs 12] [--spacing 3]`: memory and handles of a daemon over weeks that pass in minutes. */
const { values } = parseArgs({ options: { days: { type: 'string', default: '30' }, runs: { type: 'string', default: '12' }, spacing: { type: 'string', default: '3' } } });
let rejections = 0;
process.on('unhandledRejection', (error) => {
  rejections++;
  console.error(error);
});
// A commit for each second of weeks: in memory, where a sync costs nothing.
const place = existsSync('/dev/shm') ? '/dev/shm' : tmpdir();
const began = performance.now();
const { bench, days } = await soak({
  days: Number(values.days), runsPerDay: Number(values.runs), idleSpacing: Number(values.spacing), folder: mkdtempSync(join(place, 'soak-')),
  day: ({ day, heap, arrays, resident, handles, active, runs, readings }) =>
    console.log(`day ${day}: heap ${(heap / 1e6).toFixed(2)} MB, arrays ${(arrays / 1e6).toFixed(2)} MB, resident ${(resident / 1e6).toFixed(0)} MB, ${handles} handles, ${active} active, ${runs} runs, ${readings} readings, ${((performance.now() - began) / 1000).toFixed(0)} s`),
});
const { intact, tracesRemoved } = verifyLedger(bench.daemon.records ?? (() => { throw new Error('the store is gone'); })());
const verdicts = bench.daemon.records?.listRuns({ limit: 1e6 }).reduce<Record<string, number>>((sum, { verdict }) => ({ ...sum, [String(verdict)]: (sum[String(verdict)] ?? 0) + 1 }), {});
bench.clear();
// The first two days fill what has a fixed size: recent readings, caches, compiled code.
const later = days.slice(2);
const slope = (what: string, figure: (day: (typeof days)[number]) => number) => console.log(`${what}: ${(slopePerDay(later, figure) / 1e3).toFixed(1)} kB a simulated day`);
if (later.length >= 2) {
  slope('heap', ({ heap }) => heap);
  slope('arrays', ({ arrays }) => arrays);
  slope('resident', ({ resident }) => resident);
}
console.log({ verdicts, intact, tracesRemoved, rejections, handles: [days[0]?.handles, days.at(-1)?.handles] });
