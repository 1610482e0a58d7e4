import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';

const require = createRequire(import.meta.url);

/** Faces of the embedded font. The built-in fonts of PDF have no `≤` and no `Δ`, and print other signs in their stead. */
export type Face = 'plain' | 'bold' | 'mono';

const files: Readonly<Record<Face, string>> = { plain: 'DejaVuSans', bold: 'DejaVuSans-Bold', mono: 'DejaVuSansMono' };
const read = new Map<Face, Buffer>();

/** Bytes of a face, read once. */
export function fontOf(face: Face): Buffer {
  const known = read.get(face);
  if (known !== undefined) return known;
  const bytes = readFileSync(require.resolve(`dejavu-fonts-ttf/ttf/${files[face]}.ttf`));
  read.set(face, bytes);
  return bytes;
}
