import { Worker } from 'node:worker_threads';
import { InputError, inputError, type Problem } from '../core/problems.js';

/** What goes to the thread and what comes back. */
export interface ThreadQuestion<Question> {
  readonly id: number;
  readonly question: Question;
}
export type ThreadAnswer<Answer> =
  | { readonly id: number; readonly answer: Answer }
  | { readonly id: number; readonly wrong: { readonly source: string; readonly problems: readonly Problem[] } }
  | { readonly id: number; readonly failed: string };

interface Waiting<Answer> {
  readonly resolve: (answer: Answer) => void;
  readonly reject: (error: Error) => void;
}

export interface AskedThreadOptions {
  /** The file that the thread runs. */
  readonly file: URL;
  readonly workerData: unknown;
  /** What is asked for, in the plural, and what became of one that was not answered: 'documents', 'the document was not made'. */
  readonly what: string;
  readonly lost: string;
  /** Questions that may wait for those before them. */
  readonly most: number;
  /** ms without any answer after which the thread is taken for stuck and ended; without it there is no such limit. */
  readonly patience?: number;
}

/**
 * Work in a thread of its own: the one that reads the instrument stamps each reading as it arrives, and must never wait
 * for a page to be drawn or a store to be searched. The thread begins with the first question.
 */
export class AskedThread<Question, Answer> {
  private worker: Worker | null = null;
  private readonly waiting = new Map<number, Waiting<Answer>>();
  private asked = 0;
  private stuck: NodeJS.Timeout | undefined;

  constructor(private readonly options: AskedThreadOptions) {}

  ask(question: Question): Promise<Answer> {
    const { what, most } = this.options;
    if (this.waiting.size >= most) return Promise.reject(inputError(what, '', 'too many are asked for at this moment; try again in a minute'));
    const asked: ThreadQuestion<Question> = { id: ++this.asked, question };
    return new Promise((resolve, reject) => {
      this.waiting.set(asked.id, { resolve, reject });
      this.worker ??= this.hire();
      this.worker.postMessage(asked);
      if (this.waiting.size === 1) this.watch(this.worker);
    });
  }

  async close(): Promise<void> {
    const { worker } = this;
    this.worker = null;
    this.fail('the program is ending');
    await worker?.terminate();
  }

  private hire(): Worker {
    const worker = new Worker(this.options.file, { workerData: this.options.workerData });
    // It must not keep the program alive.
    worker.unref();
    worker.on('message', (answer: ThreadAnswer<Answer>) => this.take(answer));
    worker.on('error', (error) => this.lose(worker, error.message));
    worker.on('exit', () => this.lose(worker, 'its thread ended'));
    return worker;
  }

  private take(answer: ThreadAnswer<Answer>): void {
    const asked = this.waiting.get(answer.id);
    this.waiting.delete(answer.id);
    if (this.worker !== null) this.watch(this.worker);
    if ('answer' in answer) asked?.resolve(answer.answer);
    else asked?.reject('wrong' in answer ? new InputError(answer.wrong.source, answer.wrong.problems) : new Error(answer.failed));
  }

  /** From here on the next answer is waited for, if one is due. */
  private watch(worker: Worker): void {
    clearTimeout(this.stuck);
    const { patience } = this.options;
    if (patience === undefined || this.waiting.size === 0) return;
    this.stuck = setTimeout(() => {
      this.lose(worker, `its thread gave no answer for ${patience / 1000} s`);
      void worker.terminate();
    }, patience).unref();
  }

  /** The next question gets a fresh thread. */
  private lose(worker: Worker, why: string): void {
    if (this.worker !== worker) return;
    this.worker = null;
    this.fail(why);
  }

  private fail(why: string): void {
    clearTimeout(this.stuck);
    for (const { reject } of this.waiting.values()) reject(new Error(`${this.options.lost}: ${why}`));
    this.waiting.clear();
  }
}
