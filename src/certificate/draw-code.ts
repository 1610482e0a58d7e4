import QRCode from 'qrcode';

/** Modules of quiet zone around a QR code (ISO/IEC 18004). */
const quiet = 4;

/** Draws a text as a QR code, quiet zone included, into a square of `size` points. */
export function drawCode(pdf: PDFKit.PDFDocument, text: string, x: number, y: number, size: number): void {
  const { modules } = QRCode.create(text, { errorCorrectionLevel: 'M' });
  const step = size / (modules.size + 2 * quiet);
  for (let row = 0; row < modules.size; row++) {
    for (let from = 0; from < modules.size; ) {
      if (modules.get(row, from) === 0) {
        from++;
        continue;
      }
      let to = from;
      while (to < modules.size && modules.get(row, to) !== 0) to++;
      // A run of dark modules is one rectangle: seams between single ones show on some printers.
      pdf.rect(x + (quiet + from) * step, y + (quiet + row) * step, (to - from) * step, step);
      from = to;
    }
  }
  pdf.fill('#000000');
}
