import { linkSync, renameSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { fileWriter, ParquetWriter, type SchemaElement } from 'hyparquet-writer';
import { inputError } from '../core/problems.js';
import { DamagedBlock } from '../records/block-codec.js';
import { runColumns, runsSchema, traceColumns, traceSchema, type Columns } from '../records/parquet-columns.js';
import { extentOf } from '../records/run-record.js';
import { runStory } from '../records/run-story.js';
import type { Store } from '../records/store.js';
import { checkFolder } from './export-files.js';

/** Lines of the table of runs that are gathered before they are written. */
const runsTogether = 500;

export interface ParquetExport {
  /** Paths of the files written. */
  readonly written: readonly string[];
  /** Runs whose trace is left out, a sentence each. */
  readonly leftOut: readonly string[];
}

/**
 * Writes runs.parquet and, for each run, run-N.parquet with its trace: columns that spreadsheets' big sisters read as they
 * are. Piece by piece, so that a run of days costs no memory; each file appears whole or not at all.
 * @throws InputError where a file is there already or cannot be written
 */
export async function exportParquet(store: Store, numbers: readonly number[], folder: string, { force, software, progress }: { readonly force: boolean; readonly software: string; readonly progress: (written: number) => void }): Promise<ParquetExport> {
  const name = (run: number) => `run-${run}.parquet`;
  checkFolder(folder, ['runs.parquet', ...numbers.map(name)], force);
  const written: string[] = [];
  const leftOut: string[] = [];
  const seal = (run: number) => store.ledger.of(run)[0]?.seal ?? null;
  function* table(): Generator<Columns> {
    for (let i = 0; i < numbers.length; i += runsTogether) yield runColumns(numbers.slice(i, i + runsTogether).map((run) => runStory(store, run)), seal);
  }
  written.push(await write(join(folder, 'runs.parquet'), runsSchema, table(), { software }, force));
  for (const number of numbers) {
    progress(written.length);
    const run = store.getRun(number);
    if (!run?.received) continue;
    if (store.traceRemoved(number)) {
      leftOut.push(`the trace of run ${number} is left out: it was given up to keep room`);
      continue;
    }
    const { channel, received } = run;
    const { from, to } = extentOf(run);
    const anchors = store.channels.anchorsWithin(channel, from, to);
    const samples = store.traces.inTurn(channel, from, to, received);
    function* pieces(): Generator<Columns> {
      for (const piece of samples) if (piece.time.length > 0) yield traceColumns(piece, anchors);
    }
    try {
      written.push(await write(join(folder, name(number)), traceSchema, pieces(), { software, run: String(number), bench: run.bench, verdict: run.verdict ?? '', seal: seal(number) ?? '' }, force));
    } catch (error) {
      if (!(error instanceof DamagedBlock)) throw error;
      leftOut.push(`the trace of run ${number} is left out: ${error.message}`);
    }
  }
  return { written, leftOut };
}

async function write(path: string, schema: SchemaElement[], pieces: Iterable<Columns>, facts: Readonly<Record<string, string>>, force: boolean): Promise<string> {
  const part = `${path}.${process.pid}.part`;
  try {
    const writer = new ParquetWriter({ writer: fileWriter(part), schema, createdBy: facts['software'] ?? '', kvMetadata: Object.entries(facts).map(([key, value]) => ({ key, value })) });
    for (const columnData of pieces) await writer.write({ columnData: columnData.map(({ name, data }) => ({ name, data: data as unknown[] })) });
    await writer.finish();
    if (force) renameSync(part, path);
    else {
      // Unlike a rename, a link never takes the place of a file that came there meanwhile.
      linkSync(part, path);
      rmSync(part);
    }
  } catch (error) {
    rmSync(part, { force: true });
    const { code } = error as NodeJS.ErrnoException;
    if (error instanceof DamagedBlock || code === undefined || code.startsWith('ERR_')) throw error;
    throw inputError(path, '', code === 'EEXIST' ? 'is there already; choose another folder, or --force to write over it' : `cannot be written (${code})`, error);
  }
  return path;
}
