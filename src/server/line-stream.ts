import { Readable } from 'node:stream';
import type { FastifyReply, FastifyRequest } from 'fastify';
import { InputError } from '../core/problems.js';

/** ms between two lines that only tell how far the work is. */
const progressEvery = 250;

/** Writes lines at the pace of whoever reads them. */
export interface LineWriter {
  write(line: object): Promise<void>;
  /** Only now and then: for progress. */
  sometimes(line: () => object): Promise<void>;
}

/**
 * Answers with a line of JSON for each thing that `work` tells, while it goes on (newline-delimited JSON). The signal ends
 * the work when the reader goes away. What goes wrong on the way is the last line.
 */
export function sendLines(request: FastifyRequest, reply: FastifyReply, work: (lines: LineWriter, signal: AbortSignal) => Promise<void>): FastifyReply {
  const controller = new AbortController();
  let wanted: () => void = () => undefined;
  const stream = new Readable({ read: () => wanted(), highWaterMark: 64 * 1024 });
  stream.on('close', () => {
    controller.abort();
    wanted();
  });
  let shownAt = performance.now();
  const lines: LineWriter = {
    write: async (line) => {
      if (stream.push(`${JSON.stringify(line)}\n`) || controller.signal.aborted) return;
      // Someone who reads slowly slows the work down and costs no memory.
      await new Promise<void>((resolve) => (wanted = resolve));
    },
    sometimes: async (line) => {
      if (performance.now() - shownAt < progressEvery) return;
      shownAt = performance.now();
      await lines.write(line());
    },
  };
  void work(lines, controller.signal)
    .catch((error: unknown) => {
      if (controller.signal.aborted) return;
      if (!(error instanceof InputError)) request.log.error(error);
      stream.push(`${JSON.stringify({ line: 'failed', error: error instanceof InputError ? error.message : 'something went wrong in the server' })}\n`);
    })
    .finally(() => stream.push(null));
  return reply.header('content-type', 'application/x-ndjson').header('cache-control', 'no-store').send(stream);
}
