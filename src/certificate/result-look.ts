import type { AssemblyVerdict } from '../records/assembly-results.js';
import { inks, type Ink } from './sheet.js';

/** How a result reads and is coloured; its shape is drawn by `drawResult`. */
export const resultLook: Readonly<Record<AssemblyVerdict, { readonly word: string; readonly ink: Ink }>> = {
  pass: { word: 'PASS', ink: 'good' },
  fail: { word: 'FAIL', ink: 'bad' },
  'retest alone': { word: 'RETEST ALONE', ink: 'bad' },
  inconclusive: { word: 'INCONCLUSIVE', ink: 'unsure' },
};

/** A disc with a tick, an octagon with a cross, a diamond with a bar: told apart without colour. */
export function drawResult(pdf: PDFKit.PDFDocument, result: AssemblyVerdict, x: number, y: number, size: number): void {
  const r = size / 2;
  const [cx, cy] = [x + r, y + r];
  const colour = inks[resultLook[result].ink];
  const line = (width: number) => pdf.lineWidth(width).lineCap('round').strokeColor('#ffffff');
  if (result === 'pass') {
    pdf.circle(cx, cy, r).fill(colour);
    line(size / 9).moveTo(cx - 0.45 * r, cy + 0.05 * r).lineTo(cx - 0.1 * r, cy + 0.4 * r).lineTo(cx + 0.5 * r, cy - 0.35 * r).stroke();
  } else if (result === 'inconclusive') {
    pdf.polygon([cx, cy - r], [cx + r, cy], [cx, cy + r], [cx - r, cy]).fill(colour);
    line(size / 9).moveTo(cx, cy - 0.4 * r).lineTo(cx, cy + 0.12 * r).stroke();
    pdf.circle(cx, cy + 0.42 * r, size / 16).fill('#ffffff');
  } else {
    const k = 0.414 * r;
    pdf.polygon([cx - k, cy - r], [cx + k, cy - r], [cx + r, cy - k], [cx + r, cy + k], [cx + k, cy + r], [cx - k, cy + r], [cx - r, cy + k], [cx - r, cy - k]).fill(colour);
    line(size / 9).moveTo(cx - 0.42 * r, cy - 0.42 * r).lineTo(cx + 0.42 * r, cy + 0.42 * r).moveTo(cx + 0.42 * r, cy - 0.42 * r).lineTo(cx - 0.42 * r, cy + 0.42 * r).stroke();
  }
  pdf.lineCap('butt');
}
