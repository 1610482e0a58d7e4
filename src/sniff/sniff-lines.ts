import type { Clock } from '../../drivers/clock.js';
import { LinkError, type Wiring } from '../../drivers/wiring.js';
import { isGarbage, isReadable, qualityOf, type ByteQuality } from './byte-quality.js';
import { hear, joined, type Chunk } from './hear.js';
import { frameOf } from './line-frame.js';
import { lineFits, linesOf, type LineFit } from './line-fit.js';
import { overheard, type Overheard } from './overheard.js';
import type { Wanted } from './plausible.js';
import { lineSettings, type KnownSettings } from './settings-to-try.js';
import { serialTargetOf, shownSettings, type SerialSettings } from './sniff-target.js';

export interface LineSniff {
  readonly target: { readonly kind: 'serial'; readonly path: string } | { readonly kind: 'tcp'; readonly host: string; readonly port: number };
  readonly known: KnownSettings;
  readonly wanted: Wanted;
  /** Sent each second; without it nothing is sent. */
  readonly ask?: string;
  /** s with each setting. */
  readonly each: number;
  /** s in all. */
  readonly limit: number;
}

/** What one setting gave. */
export interface Attempt {
  readonly settings: SerialSettings | null;
  readonly seconds: number;
  readonly quality: ByteQuality;
  /** Why it could not be opened, or ended early. */
  readonly failed?: string;
}

export interface LinesHeard {
  readonly attempts: readonly Attempt[];
  /** Those that made text of what came; `null` on TCP or where none did. */
  readonly settings: SerialSettings | null;
  /** The bytes of the best attempt. */
  readonly bytes: Uint8Array;
  readonly chunks: readonly Chunk[];
  readonly lines: readonly string[];
  /** How lines are framed, where that is unusual. */
  readonly frame: Readonly<Record<string, unknown>>;
  readonly fits: readonly LineFit[];
  /** Talk of Modbus RTU between others, where that is what the bytes are. */
  readonly overheard: Overheard | null;
}

/** Lines after which a setting has shown what it gives, and s that it gets at least. */
const enoughLines = 40;
const shortest = 1;
const askEvery = 1;
/** Share of the bytes, NUL left out, from which lines are looked for; a damaged one now and then does not matter. */
const mostlyText = 0.9;

/**
 * Listens with one setting after the other until what comes is text.
 * @throws LinkError when the first opening fails: then nothing can be said
 */
export async function sniffLines(o: LineSniff, wiring: Wiring, clock: Clock, signal: AbortSignal, tell: (text: string) => void): Promise<LinesHeard> {
  const queue: (SerialSettings | null)[] = o.target.kind === 'serial' ? lineSettings(o.known) : [null];
  const attempts: Attempt[] = [];
  const end = clock.now() + o.limit;
  let best: { settings: SerialSettings | null; chunks: readonly Chunk[]; quality: ByteQuality } | null = null;
  for (let settings = queue.shift(); settings !== undefined; settings = queue.shift()) {
    const left = end - clock.now();
    if (signal.aborted || left <= 0) break;
    tell(`${settings === null ? 'listening' : `listening at ${shownSettings(settings)}`}`);
    const target = o.target.kind === 'tcp' ? o.target : serialTargetOf(o.target.path, settings ?? { baudRate: 9600, dataBits: 8, parity: 'none', stopBits: 1 });
    try {
      const heard = await hear(target, wiring, clock, {
        seconds: Math.min(o.each, left),
        ...(o.ask !== undefined && { ask: { text: o.ask, every: askEvery } }),
        enough: (bytes, seconds) => done(bytes, seconds),
        signal,
      });
      const quality = qualityOf(joined(heard.chunks));
      attempts.push({ settings, seconds: heard.seconds, quality, ...(heard.lost !== undefined && { failed: heard.lost }) });
      if (best === null || worth(quality) > worth(best.quality)) best = { settings, chunks: heard.chunks, quality };
      if (isReadable(quality)) break;
      // Seven bits with parity look like damaged text: tried at once, at the same baud.
      if (settings !== null && quality.sevenBits !== null) queue.unshift({ ...settings, dataBits: 7, parity: quality.sevenBits });
    } catch (error) {
      if (!(error instanceof LinkError) || attempts.every(({ failed }) => failed !== undefined)) throw error;
      attempts.push({ settings, seconds: 0, quality: qualityOf(new Uint8Array(0)), failed: error.message });
    }
  }
  const chunks = best?.chunks ?? [];
  const bytes = joined(chunks);
  const frame = { ...frameOf(bytes), ...(o.ask !== undefined && { firstLine: 'keep' as const }) };
  const readable = best !== null && qualityOf(bytes.filter((byte) => byte !== 0)).text >= mostlyText;
  return {
    attempts, bytes, chunks, frame, settings: readable ? (best?.settings ?? null) : null,
    lines: readable ? linesOf(chunks, { maximumLineLength: 4096, firstLine: 'drop', ...frame }) : [],
    fits: readable ? lineFits(chunks, o.wanted, frame) : [],
    overheard: readable ? null : overheard(bytes, o.wanted),
  };
}

const worth = ({ bytes, text, lineEnds }: ByteQuality): number => (bytes === 0 ? -1 : text + (lineEnds > 0 ? 0.1 : 0));

function done(bytes: Uint8Array, seconds: number): boolean {
  if (seconds < shortest) return false;
  const quality = qualityOf(bytes);
  return isGarbage(quality) || (isReadable(quality) && quality.lineEnds >= enoughLines);
}
