import { describe, expect, it, onTestFinished } from 'vitest';
import { AskedThread } from '../../src/threads/asked-thread.js';

/** A thread that runs `program`; it gets `parentPort`. */
function thread(program: string, patience?: number): AskedThread<string, string> {
  const file = new URL(`data:text/javascript,${encodeURIComponent(`import { parentPort } from 'node:worker_threads';\n${program}`)}`);
  const asked = new AskedThread<string, string>({ file, workerData: null, what: 'answers', lost: 'there is no answer', most: 3, ...(patience !== undefined && { patience }) });
  onTestFinished(() => asked.close());
  return asked;
}

/** Says a word back; 'hang' keeps it busy for ever. */
const parrot = "parentPort.on('message', ({ id, question }) => { if (question === 'hang') for (;;); parentPort.postMessage({ id, answer: question }); });";

describe('a thread that is asked', () => {
  it('answers, and refuses more than may wait', async () => {
    const asked = thread(parrot, 60_000);
    const all = await Promise.allSettled(['a', 'b', 'c', 'd'].map((word) => asked.ask(word)));
    expect(all.map((one) => (one.status === 'fulfilled' ? one.value : String(one.reason)))).toEqual(['a', 'b', 'c', expect.stringMatching(/too many are asked for/)]);
  });

  it('that gives no answer is ended: all that waits is told so, and the next question gets a fresh one', async () => {
    const asked = thread(parrot, 300);
    const all = await Promise.allSettled(['hang', 'b'].map((word) => asked.ask(word)));
    expect(all.map((one) => (one.status === 'rejected' ? String(one.reason) : one.value))).toEqual(Array(2).fill('Error: there is no answer: its thread gave no answer for 0.3 s'));
    // A fresh thread may take longer than that to begin on a busy machine; then there is another.
    await expect.poll(() => asked.ask('hello').catch(String), { timeout: 60_000 }).toBe('hello');
  });

  it('that dies is told at once', async () => {
    await expect(thread('process.exit(1)').ask('hello')).rejects.toThrow(/^there is no answer: its thread ended$/);
  });
});
