import type { RunChange } from '../../src/tuning/run-change.js';
import type { FromReader, LoadedRun, ReadTwice, ToReader, Tried } from './reading-messages.js';

/** The part of a Worker that is needed here. */
export interface Port {
  postMessage(message: ToReader): void;
  onmessage: ((event: MessageEvent<FromReader>) => void) | null;
}

/** What the page hears. Nothing that a newer order has overtaken is told. */
export interface ReadingListener {
  read(result: ReadTwice): void;
  swept(id: string, change: RunChange, done: number, of: number): void;
  failed(id: string, sentence: string): void;
}

/** The page's side of the worker: orders go out with tickets, and only answers to the newest come through. */
export class ReadingClient {
  private ticket = 0;
  private newestRead = 0;
  private newestSweep = 0;

  constructor(private readonly port: Port, listener: ReadingListener) {
    port.onmessage = ({ data }) => {
      if (data.ticket !== (data.kind === 'read' ? this.newestRead : data.kind === 'swept' ? this.newestSweep : data.ticket)) return;
      if (data.kind === 'read') listener.read(data);
      else if (data.kind === 'swept') listener.swept(data.id, data.change, data.done, data.of);
      else if (data.ticket === this.newestRead || data.ticket === this.newestSweep) listener.failed(data.id, data.sentence);
    };
  }

  hold(run: LoadedRun): void {
    this.port.postMessage({ kind: 'hold', run });
  }

  release(id: string): void {
    this.port.postMessage({ kind: 'release', id });
  }

  read(id: string, { thresholds, trial = null }: Tried): void {
    this.newestRead = ++this.ticket;
    this.port.postMessage({ kind: 'read', ticket: this.ticket, id, thresholds, trial });
  }

  sweep(ids: readonly string[], { thresholds, trial = null }: Tried): void {
    this.newestSweep = ++this.ticket;
    this.port.postMessage({ kind: 'sweep', ticket: this.ticket, ids, thresholds, trial });
  }

  stopSweep(): void {
    this.newestSweep = ++this.ticket;
    this.port.postMessage({ kind: 'stop-sweep' });
  }
}
