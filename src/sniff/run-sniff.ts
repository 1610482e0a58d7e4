import type { Clock } from '../../drivers/clock.js';
import type { Wiring } from '../../drivers/wiring.js';
import { benchText, type FoundChannel } from './bench-text.js';
import { lineChannel, placeKeys, registerChannel } from './found-channel.js';
import { likelyEnough } from './register-fit.js';
import { digits } from './plausible.js';
import { readBack, type ReadBack } from './read-back.js';
import { lineReport } from './report-lines.js';
import { modbusReport } from './report-modbus.js';
import { sniffLines, type LineSniff } from './sniff-lines.js';
import { sniffModbus, type ModbusSniff } from './sniff-modbus.js';

/** All that a person may say. */
export type SniffRequest = LineSniff & ModbusSniff & { readonly how: 'lines' | 'modbus' };

/** What came out of it. */
export interface SniffResult {
  /** Lines for people. */
  readonly report: readonly string[];
  /** A whole bench file; `null` where nothing could be the pressure. */
  readonly bench: string | null;
  /** The same for programs. */
  readonly json: Readonly<Record<string, unknown>>;
}

/** A trial with the file that was found, s and readings at most. */
const trial = { seconds: 4, most: 10 } as const;

/**
 * Listens, or asks where that is wanted, and reads once more with the bench file that came of it.
 * @throws LinkError when the place cannot be opened
 */
export async function runSniff(request: SniffRequest, wiring: Wiring, clock: Clock, signal: AbortSignal, tell: (text: string) => void): Promise<SniffResult> {
  const { report, channel, json } = request.how === 'lines' ? await fromLines(request, wiring, clock, signal, tell) : await fromRegisters(request, wiring, clock, signal, tell);
  if (channel === null) return { report, bench: null, json: { ...json, bench: null, readBack: null } };
  const bench = benchText(channel);
  tell('reading with what was found');
  const back = await readBack(bench, wiring, clock, { ...trial, signal });
  return { report: [...report, '', backLine(back, signal.aborted)], bench, json: { ...json, bench, readBack: back } };
}

interface Part {
  readonly report: readonly string[];
  readonly channel: FoundChannel | null;
  readonly json: Readonly<Record<string, unknown>>;
}

async function fromLines(request: SniffRequest, wiring: Wiring, clock: Clock, signal: AbortSignal, tell: (text: string) => void): Promise<Part> {
  const heard = await sniffLines(request, wiring, clock, signal, tell);
  const [best] = heard.fits;
  const { attempts, settings, lines, fits, overheard, bytes } = heard;
  return {
    report: lineReport(heard, request.ask !== undefined),
    channel: best === undefined || best.score === 0 ? null : lineChannel(best, request, await placeKeys(request.target), settings),
    json: { target: request.target, how: 'lines', attempts, settings, firstBytes: Buffer.from(bytes.subarray(0, 256)).toString('hex'), lines: lines.slice(0, 50), fits: fits.slice(0, 10), overheard: overheard && { frames: overheard.frames, asked: overheard.asked, fits: overheard.fits.slice(0, 10) } },
  };
}

async function fromRegisters(request: SniffRequest, wiring: Wiring, clock: Clock, signal: AbortSignal, tell: (text: string) => void): Promise<Part> {
  const heard = await sniffModbus(request, wiring, clock, signal, tell);
  const [best] = heard.fits;
  const { attempts, settings, units, anyUnit, series, bits, fits, slowest } = heard;
  return {
    report: modbusReport(heard, request),
    channel: best === undefined || best.score < likelyEnough ? null : registerChannel(best, request, await placeKeys(request.target), heard),
    json: {
      target: request.target, how: 'modbus', attempts, settings, units, anyUnit, slowest, lost: heard.lost ?? null, bits, fits: fits.slice(0, 20),
      registers: series.map(({ unitId, table, start, count, rounds }) => ({ unitId, table, start, count, last: Buffer.from(rounds.at(-1)?.bytes ?? []).toString('hex') })),
    },
  };
}

function backLine({ pressures, faults }: ReadBack, stopped: boolean): string {
  if (stopped) return 'It was not read back with this file.';
  const first = pressures.slice(0, 5).map(digits).join(', ');
  const trouble = faults.length === 0 ? '' : `; some readings were none: ${faults.join(', ')}`;
  return pressures.length === 0 ? `Read once more with this file, no pressure came${faults.length === 0 ? '' : ` (${faults.join(', ')})`}: do not use it as it stands.` : `Read once more with this file, as the bench would: ${first} bar${trouble}.`;
}
