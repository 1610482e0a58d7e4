import { z } from 'zod';
import written from './hose-tables.json' with { type: 'json' };

const pressures = z.record(z.string().regex(/^(\d+|all)$/), z.number().positive());

const tablesSchema = z.strictObject({
  sizes: z.array(
    z.strictObject({
      dash: z.number().int().positive(),
      dn: z.number().positive(),
      /** Other numbers that the same size goes by: DN 12 for 12.5. */
      alsoDn: z.array(z.number().positive()),
      inch: z.string(),
    }),
  ),
  tables: z.array(
    z.strictObject({
      standards: z.array(z.strictObject({ name: z.string(), edition: z.string() })).min(1),
      hose: z.string(),
      unit: z.enum(['MPa', 'bar', 'psi']),
      source: z.string(),
      /** How sure the numbers are. */
      provenance: z.string(),
      types: z.array(
        z.strictObject({
          name: z.string(),
          also: z.array(z.string()),
          /** By dash size, or `all`; in the table's unit. */
          workingPressure: pressures,
        }),
      ),
    }),
  ),
});

type Tables = z.output<typeof tablesSchema>;

/** A nominal size: DN in mm, inch and dash number. */
export type HoseSize = Tables['sizes'][number];
export type HoseTable = Tables['tables'][number];
export type HoseType = HoseTable['types'][number];

/** Maximum working pressures by standard, type and size, in the unit of each standard. */
export const { sizes: hoseSizes, tables: hoseTables }: Tables = tablesSchema.parse(written);

/** `DN 12.5 (1/2 inch, -8)`. */
export const sizeName = ({ dn, inch, dash }: HoseSize): string => `DN ${dn} (${inch} inch, -${dash})`;
