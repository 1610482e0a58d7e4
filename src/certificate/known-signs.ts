/** The part of a font that says which signs it has; pdfkit keeps it within its own. */
interface SignFont {
  hasGlyphForCodePoint(code: number): boolean;
}

const isSignFont = (value: unknown): value is SignFont => typeof value === 'object' && value !== null && 'hasGlyphForCodePoint' in value && typeof value.hasGlyphForCodePoint === 'function';

/** The signs of the font that a document writes with at the moment. */
export function signsOf(pdf: PDFKit.PDFDocument): SignFont {
  const own: unknown = '_font' in pdf ? pdf._font : null;
  const font: unknown = typeof own === 'object' && own !== null && 'font' in own ? own.font : null;
  if (!isSignFont(font)) throw new Error('this version of pdfkit does not tell which signs a font has');
  return font;
}

/** True where nothing of a text would be printed as an empty box. */
export const hasAll = (font: SignFont, text: string): boolean => [...text].every((sign) => isKnown(font, sign));

/** A text with each sign that a font lacks named by its number: `[U+674E]`; an empty box would tell nothing. */
export const named = (font: SignFont, text: string): string => [...text].map((sign) => (isKnown(font, sign) ? sign : `[U+${(sign.codePointAt(0) ?? 0).toString(16).toUpperCase().padStart(4, '0')}]`)).join('');

/** Line ends, joiners and the like are never drawn. */
const isKnown = (font: SignFont, sign: string): boolean => /[\s\p{Cf}\p{Mn}]/u.test(sign) || font.hasGlyphForCodePoint(sign.codePointAt(0) ?? 0);
