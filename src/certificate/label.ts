import type { CertificateContent } from './certificate-content.js';
import { warningOf } from './certificate-pdf.js';
import { drawCode } from './draw-code.js';
import { printable, type LabelCharset } from './label-charset.js';
import { resultLook } from './result-look.js';
import { Sheet } from './sheet.js';

/** Width of the paper of a receipt printer, mm. */
export const labelWidths = [58, 80] as const;
export type LabelWidth = (typeof labelWidths)[number];

/** Signs in a line of the printer's own font (common practice: 12 dots a sign, 384 or 576 dots a line). */
const signs: Readonly<Record<LabelWidth, number>> = { 58: 32, 80: 48 };

interface Line {
  readonly text: string;
  readonly weight: 'large' | 'bold' | 'plain' | 'small';
}

/** What a label says: enough to know the assembly, its result and where the record is. */
function linesOf(content: CertificateContent): Line[] {
  const value = (label: string, rows = content.job) => rows.find((row) => row.label === label)?.value ?? null;
  const warning = warningOf(content);
  const plain = (text: string | null): Line[] => (text === null ? [] : [{ text, weight: 'plain' }]);
  const named = (label: string, text: string | null): Line[] => plain(text === null ? null : `${label}: ${text}`);
  return [
    ...(content.shop.name === null ? [] : [{ text: content.shop.name, weight: 'bold' as const }]),
    { text: resultLook[content.result].word, weight: 'large' },
    ...(warning === null ? [] : [{ text: warning.word, weight: 'bold' as const }, { text: warning.why, weight: 'small' as const }]),
    ...(content.assembly === null
      ? content.assemblies.map(({ serial, result }): Line => ({ text: `${serial}  ${resultLook[result].word}`, weight: 'bold' }))
      : [{ text: content.assembly, weight: 'bold' as const }]),
    ...named('Order', value('Order')),
    ...plain(value('Customer')),
    ...plain(value('Hose')),
    ...named('Required', value('Required pressure', content.plan)),
    ...named('Hold', value('Hold time', content.plan)),
    ...content.measured.slice(0, 1).flatMap((rows) => [...named('Highest', value('Highest', rows)), ...named('Loss', value('Loss in hold', rows))]),
    { text: content.visual.given ? `Seen: ${content.visual.statement}` : 'No visual finding', weight: 'plain' },
    { text: content.when, weight: 'small' },
    { text: `No. ${content.number}, run ${content.run}, ${content.bench}`, weight: 'small' },
    { text: `Seal ${content.seal}`, weight: 'small' },
    { text: 'Watches and judges only; no safety device.', weight: 'small' },
  ];
}

const styles = {
  large: { face: 'bold', size: 17 }, bold: { face: 'bold', size: 8.5 }, plain: { face: 'plain', size: 7.5 }, small: { face: 'plain', size: 6 },
} as const;
const pointsPerMm = 72 / 25.4;

/** The label as a PDF of the paper's width, as long as it needs to be. */
export async function labelPdf(content: CertificateContent, paper: LabelWidth): Promise<Uint8Array> {
  const [width, margin] = [paper * pointsPerMm, 3 * pointsPerMm];
  const inner = width - 2 * margin;
  const code = Math.min(inner, 30 * pointsPerMm);
  const lines = linesOf(content);
  const setup = { title: `Label ${content.number}`, subject: `Run ${content.run} on ${content.bench}: ${resultLook[content.result].word}`, author: content.shop.name ?? 'Dwellkeeper', wall: content.wall, margin, foot: 0, otherFont: content.shop.font } as const;
  // The length is known only once the lines are broken, which needs the fonts of a document.
  const measure = new Sheet({ ...setup, size: [width, 100] });
  const heights = lines.map(({ text, weight }) => measure.heightOf(text, inner, styles[weight]));
  const sheet = new Sheet({ ...setup, size: [width, heights.reduce((sum, height) => sum + height + 2, 2 * margin + code)] });
  sheet.page();
  lines.forEach(({ text, weight }, i) => {
    sheet.at(text, sheet.left, sheet.y, inner, styles[weight]);
    sheet.y += (heights[i] ?? 0) + 2;
  });
  drawCode(sheet.pdf, content.code, (width - code) / 2, sheet.y, code);
  return sheet.end(() => ['', '']);
}

/** The label as plain text in the signs that the printer has, in lines that fit the paper. What had to be replaced is said. */
export function labelText(content: CertificateContent, paper: LabelWidth, charset: LabelCharset = 'ascii'): string {
  const most = signs[paper];
  const rule = '-'.repeat(most);
  let [plainer, numbered] = [false, false];
  const written = (text: string): string[] => {
    const made = printable(text, charset);
    plainer ||= made.plainer;
    numbered ||= made.numbered;
    return wrap(made.text, most);
  };
  const lines = linesOf(content).flatMap(({ text, weight }) => {
    const wrapped = written(text);
    return weight === 'large' ? [rule, ...wrapped.map((line) => `*** ${line} ***`), rule] : wrapped;
  });
  const said = [
    ...(plainer ? ['Letters that this printer lacks stand here in a plainer form; the record has them as written.'] : []),
    ...(numbered ? ['[U+...]: signs that it lacks, by their Unicode number.'] : []),
  ];
  return `${[...lines, ...said.flatMap((text) => wrap(text, most))].join('\n')}\n`;
}

/** Broken at blanks, and inside a word only where it is longer than a line. */
function wrap(text: string, most: number): string[] {
  const lines: string[] = [];
  let line = '';
  for (const word of text.split(' ')) {
    for (const piece of pieces(word, most)) {
      if (line !== '' && widthOf(line) + 1 + widthOf(piece) > most) {
        lines.push(line);
        line = '';
      }
      line = line === '' ? piece : `${line} ${piece}`;
      if (widthOf(line) >= most) {
        lines.push(line);
        line = '';
      }
    }
  }
  return line === '' && lines.length > 0 ? lines : [...lines, line];
}

/** A word in pieces that fit a line each. */
function pieces(word: string, most: number): string[] {
  const found = [''];
  for (const sign of word) {
    const last = found.at(-1) ?? '';
    if (last !== '' && widthOf(last) + widthOf(sign) > most) found.push(sign);
    else found[found.length - 1] = last + sign;
  }
  return found;
}

/** Columns of the printer: signs of East Asian scripts take two (Unicode Standard Annex 11). */
const widthOf = (text: string): number => [...text].reduce((sum, sign) => sum + (/\p{M}|\p{Cf}/u.test(sign) ? 0 : /[\p{sc=Han}\p{sc=Hangul}\p{sc=Hiragana}\p{sc=Katakana}\u3000-\u303f\uff01-\uff60]/u.test(sign) ? 2 : 1), 0);
