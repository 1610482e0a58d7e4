import PDFDocument from 'pdfkit';
import { fontOf, type Face } from './document-fonts.js';
import { hasAll, named, signsOf } from './known-signs.js';

/** Colours of a document; each only repeats what a word or a shape says. */
export const inks = { ink: '#1b2426', faint: '#566164', rule: '#b9b5ab', good: '#0b6a4f', bad: '#b3201b', unsure: '#8a5a00', trace: '#0d5f6b', limit: '#8c3a1f', hold: '#e6efea' } as const;
export type Ink = keyof typeof inks;

export interface SheetSetup {
  readonly title: string;
  readonly author: string;
  readonly subject: string;
  /** ms since 1970, of the record: the same record gives the same bytes whenever it is printed. */
  readonly wall: number;
  /** Width and height in points (1/72 inch), or a paper. */
  readonly size: 'A4' | 'Letter' | readonly [number, number];
  /** points */
  readonly margin: number;
  /** Bottom of the text, in points from the lower edge; the foot line stands below. */
  readonly foot: number;
  /** A font for texts with signs that the document's own has not. */
  readonly otherFont?: Uint8Array | undefined;
}

interface TextStyle {
  readonly face?: Face;
  readonly size?: number;
  readonly ink?: Ink;
  readonly align?: 'left' | 'right' | 'center';
}

/** Column of a table; its width is a share of the table's. */
export interface Column {
  readonly head: string;
  readonly share: number;
  readonly align?: 'left' | 'right';
}

/** A cell: its text, and how it is written. */
export type Cell = string | (TextStyle & { readonly text: string });

const sizeOf = { A4: [595.28, 841.89], Letter: [612, 792] } as const;
const usual = { face: 'plain', size: 8.5, ink: 'ink', align: 'left' } as const;

/** Pages that are written from top to bottom; whatever does not fit goes on the next one. Lengths in points. */
export class Sheet {
  readonly pdf: PDFKit.PDFDocument;
  readonly width: number;
  readonly height: number;
  /** Where the next thing goes, from the top. */
  y: number;
  private readonly done: Promise<Uint8Array>;
  private lacking = false;

  constructor(private readonly setup: SheetSetup) {
    const [width, height] = typeof setup.size === 'string' ? sizeOf[setup.size] : setup.size;
    this.width = width;
    this.height = height;
    const made = new Date(setup.wall);
    this.pdf = new PDFDocument({
      size: [width, height], margin: 0, bufferPages: true, lang: 'en', displayTitle: true, pdfVersion: '1.7', autoFirstPage: false,
      info: { Title: setup.title, Author: setup.author, Subject: setup.subject, Creator: 'Dwellkeeper', CreationDate: made, ModDate: made },
    });
    const parts: Buffer[] = [];
    this.done = new Promise((resolve, reject) => {
      this.pdf.on('data', (part: Buffer) => parts.push(part)).on('end', () => resolve(Buffer.concat(parts))).on('error', reject);
    });
    for (const face of ['plain', 'bold', 'mono'] as const) this.pdf.registerFont(face, fontOf(face));
    if (setup.otherFont !== undefined) this.pdf.registerFont('other', Buffer.from(setup.otherFont));
    this.y = 0;
  }

  /** Whether some sign had to be named by its number because no font has it. */
  get hasNamedSigns(): boolean {
    return this.lacking;
  }

  get left(): number {
    return this.setup.margin;
  }
  get right(): number {
    return this.width - this.setup.margin;
  }
  get inner(): number {
    return this.right - this.left;
  }
  get bottom(): number {
    return this.height - this.setup.foot;
  }
  /** Pages so far. */
  get pages(): number {
    return this.pdf.bufferedPageRange().count;
  }

  page(): void {
    this.pdf.addPage({ size: [this.width, this.height], margin: 0 });
    this.y = this.setup.margin;
  }

  /** Goes to a new page where fewer than `height` points are left. @returns whether it did */
  need(height: number): boolean {
    if (this.y + height <= this.bottom) return false;
    this.page();
    return true;
  }

  /** points that a text takes at a width. */
  heightOf(text: string, width: number, style: TextStyle = {}): number {
    return this.pdf.heightOfString(this.use(style, text), { width, lineGap: 1 });
  }

  widthOf(text: string, style: TextStyle = {}): number {
    return this.pdf.widthOfString(this.use(style, text));
  }

  /** Writes at a place; the pen does not move. @returns the height it took */
  at(text: string, x: number, y: number, width: number, style: TextStyle = {}): number {
    const { ink, align } = { ...usual, ...style };
    const height = this.heightOf(text, width, style);
    const written = this.use(style, text);
    this.pdf.fillColor(inks[ink]).text(written, x, y, { width, align, lineGap: 1 });
    return height;
  }

  /** Writes below what was written last. */
  say(text: string, style: TextStyle = {}, space = 2): void {
    const height = this.heightOf(text, this.inner, style);
    this.need(Math.min(height, this.bottom - this.setup.margin));
    this.at(text, this.left, this.y, this.inner, style);
    this.y += height + space;
  }

  /** A heading that is never left alone at the foot of a page. */
  heading(text: string, keep = 40): void {
    this.y += 7;
    this.need(18 + keep);
    this.pdf.moveTo(this.left, this.y).lineTo(this.right, this.y).lineWidth(0.6).strokeColor(inks.rule).stroke();
    this.y += 4;
    this.say(text, { face: 'bold', size: 9.5 }, 3);
  }

  table(columns: readonly Column[], rows: readonly (readonly Cell[])[], size = 7.8): void {
    const total = columns.reduce((sum, { share }) => sum + share, 0);
    const pad = 4;
    const places = columns.map((_, i) => this.left + (this.inner * columns.slice(0, i).reduce((sum, { share }) => sum + share, 0)) / total);
    const widthAt = (i: number) => (this.inner * (columns[i]?.share ?? 0)) / total - pad;
    const styleOf = (cell: Cell, i: number): TextStyle => ({ size, ...(columns[i]?.align && { align: columns[i].align }), ...(typeof cell === 'string' ? {} : cell) });
    const textOf = (cell: Cell) => (typeof cell === 'string' ? cell : cell.text);
    const head = (): void => {
      columns.forEach((column, i) => this.at(column.head, places[i] ?? 0, this.y, widthAt(i), { size: size - 0.8, ink: 'faint', align: column.align ?? 'left' }));
      this.y += size + 5;
    };
    const room = (cells: readonly Cell[]) => Math.max(size, ...cells.map((cell, i) => this.heightOf(textOf(cell), widthAt(i), styleOf(cell, i))));
    this.need(size + 8 + room(rows[0] ?? []));
    head();
    for (const cells of rows) {
      const height = room(cells);
      if (this.need(height + 3)) head();
      cells.forEach((cell, i) => this.at(textOf(cell), places[i] ?? 0, this.y, widthAt(i), styleOf(cell, i)));
      this.y += height + 3;
      this.pdf.moveTo(this.left, this.y - 1.5).lineTo(this.right, this.y - 1.5).lineWidth(0.3).strokeColor(inks.rule).stroke();
    }
    this.y += 3;
  }

  /** Names above their values, `across` beside each other. */
  grid(rows: readonly { readonly label: string; readonly value: string | null }[], across: number, missing = 'not given'): void {
    const gap = 10;
    const width = (this.inner - gap * (across - 1)) / across;
    for (let i = 0; i < rows.length; i += across) {
      const line = rows.slice(i, i + across);
      const styleOf = (value: string | null): TextStyle => (value === null ? { size: 8.8, ink: 'unsure', face: 'plain' } : { size: 8.8 });
      const height = Math.max(...line.map(({ value }) => this.heightOf(value ?? missing, width, styleOf(value))));
      this.need(height + 14);
      line.forEach(({ label, value }, k) => {
        const x = this.left + k * (width + gap);
        this.at(label, x, this.y, width, { size: 6.8, ink: 'faint' });
        this.at(value ?? missing, x, this.y + 9, width, styleOf(value));
      });
      this.y += height + 14;
    }
  }

  /** Writes a line at the foot of every page, then ends. */
  async end(footOf: (page: number, pages: number) => readonly [left: string, right: string]): Promise<Uint8Array> {
    const { start, count } = this.pdf.bufferedPageRange();
    for (let i = 0; i < count; i++) {
      this.pdf.switchToPage(start + i);
      const [left, right] = footOf(i + 1, count);
      if (left === '' && right === '') continue;
      const y = this.height - this.setup.foot + 8;
      this.pdf.moveTo(this.left, y - 3).lineTo(this.right, y - 3).lineWidth(0.4).strokeColor(inks.rule).stroke();
      this.at(left, this.left, y, this.inner * 0.8, { size: 6.8, ink: 'faint' });
      this.at(right, this.left + this.inner * 0.8, y, this.inner * 0.2, { size: 6.8, ink: 'faint', align: 'right' });
    }
    this.pdf.end();
    return this.done;
  }

  /** Takes the font that has all signs of a text. @returns the text, with signs named that no font has */
  private use(style: TextStyle, text: string): string {
    const { face, size } = { ...usual, ...style };
    const own = signsOf(this.pdf.font(face).fontSize(size));
    if (hasAll(own, text)) return text;
    if (this.setup.otherFont !== undefined && hasAll(signsOf(this.pdf.font('other').fontSize(size)), text)) return text;
    this.lacking = true;
    this.pdf.font(face).fontSize(size);
    return named(own, text);
  }
}
