/** A name and what stands for it; `null` where nothing is known, which a document says in words. */
export interface Row {
  readonly label: string;
  readonly value: string | null;
}

/** A blank text is nothing known. */
export const row = (label: string, value: string | number | null | undefined): Row => {
  const text = value === null || value === undefined ? '' : String(value).trim();
  return { label, value: text === '' ? null : text };
};

/** A number of the record with its unit, to the very digit that `judge --json` prints. */
export const figure = (value: number | null | undefined, unit: string): string | null =>
  value === null || value === undefined ? null : unit === '' ? String(value) : `${value} ${unit}`;
