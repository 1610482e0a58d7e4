/** Fields that people scan. */
export const scanFields = ['order', 'assembly', 'hoseLot', 'operator', 'customer'] as const;
export type ScanField = (typeof scanFields)[number];

export const scanWords: Readonly<Record<ScanField, string>> = {
  order: 'Order', assembly: 'Assembly', hoseLot: 'Hose lot', operator: 'Operator', customer: 'Customer',
};

/** What was in each field of the jobs so far. */
export type KnownTexts = Readonly<Record<ScanField, readonly string[]>>;

/** `A17-001` and `B23-999` are of one shape: letters, then figures, sign by sign. */
const shapeOf = (text: string): string => text.trim().replaceAll(/\p{L}/gu, 'a').replaceAll(/\d/g, '9');

/**
 * The field that a scan belongs to, told by what the jobs so far had there: the very same text, else a text of the same
 * shape. `null` where none or several would do; then a person is asked.
 */
export function placeOfScan(text: string, known: KnownTexts): ScanField | null {
  const among = (fits: (other: string) => boolean): readonly ScanField[] => scanFields.filter((field) => known[field].some(fits));
  const [same, ...others] = among((other) => other.trim().toLowerCase() === text.trim().toLowerCase());
  if (same !== undefined && others.length === 0) return same;
  const [alike, ...more] = among((other) => shapeOf(other) === shapeOf(text));
  return alike !== undefined && more.length === 0 ? alike : null;
}
