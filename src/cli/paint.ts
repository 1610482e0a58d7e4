type Brush = (text: string) => string;

/** Colours for a terminal. They only repeat what the words say, and vanish where the output is not a terminal. */
export interface Paint {
  readonly bold: Brush;
  readonly good: Brush;
  readonly bad: Brush;
  readonly unsure: Brush;
  readonly quiet: Brush;
}

const code = (on: number): Brush => (text) => `\u001b[${on}m${text}\u001b[0m`;
const plain: Brush = (text) => text;

/** Honours NO_COLOR (no-color.org). */
export const paintFor = (stream: { readonly isTTY?: boolean }): Paint =>
  stream.isTTY === true && !process.env['NO_COLOR']
    ? { bold: code(1), good: code(32), bad: code(31), unsure: code(33), quiet: code(2) }
    : { bold: plain, good: plain, bad: plain, unsure: plain, quiet: plain };
