import { createInterface } from 'node:readline';
import { Writable } from 'node:stream';
import { inputError } from '../core/problems.js';

/**
 * A secret, from the terminal without showing it, twice so that a slip is noticed; or the first line of stdin where that is no terminal.
 * It never stands on a command line, where every user of the computer could read it.
 * @throws InputError when nothing came, or the two differ
 */
export async function readSecretLine(whose: string): Promise<string> {
  const terminal = process.stdin.isTTY === true;
  if (!terminal) {
    for await (const line of createInterface({ input: process.stdin })) return line;
    throw inputError('people', '', 'no PIN or pass phrase came in; type it, or give it as the first line of stdin');
  }
  const answers: string[] = [];
  for (const question of [`PIN or pass phrase of ${whose} (not shown): `, 'Once more: ']) answers.push(await ask(question));
  if (answers[0] !== answers[1]) throw inputError('people', '', 'the two were not the same; nothing was written, begin again');
  return answers[0] ?? '';
}

function ask(question: string): Promise<string> {
  // readline echoes what is typed to its output: this one swallows it.
  const unseen = new Writable({ write: (_chunk, _encoding, done) => done() });
  const lines = createInterface({ input: process.stdin, output: unseen, terminal: true });
  process.stderr.write(question);
  return new Promise((resolve, reject) => {
    const end = (then: () => void) => {
      process.stderr.write('\n');
      lines.removeAllListeners();
      lines.close();
      then();
    };
    lines.once('line', (line) => end(() => resolve(line)));
    lines.once('SIGINT', () => end(() => reject(inputError('people', '', 'broken off; nothing was written'))));
    lines.once('close', () => end(() => reject(inputError('people', '', 'no PIN or pass phrase came in; nothing was written'))));
  });
}
