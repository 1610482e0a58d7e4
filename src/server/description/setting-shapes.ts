import { z } from 'zod';
import type { Change } from '../../library/difference.js';
import type { CheckAnswer, DifferenceAnswer, JudgedBy, PlanInForce, PlanList, SettingAnswer, VersionInfo, WrittenField } from '../setup-answers.js';
import { number, text, textOrNull, wall } from './outcome-shapes.js';
import { shapeOf } from './shape-of.js';

export const versionInfo = shapeOf<VersionInfo>()(
  z.object({ version: number, wall, who: text, why: text, sha256: text.describe('of the canonical JSON of the content: the one that records carry'), retired: z.boolean() }),
);

export const field = shapeOf<WrittenField>()(
  z.object({
    key: text, label: text, kind: z.enum(['quantity', 'text', 'switch', 'choice', 'count']), meaning: text, range: text, example: text, needed: z.boolean(),
    default: textOrNull.describe('what holds where the field is left out'), choices: z.array(text), written: textOrNull.describe('as it stands in the file'),
  }),
);

export const setting = shapeOf<SettingAnswer>()(
  z.object({
    key: text, version: number.describe('the newest; 0 where nothing was ever saved'), text: text.describe('YAML'), fields: z.array(field),
    versions: z.array(versionInfo).describe('newest first'), retired: z.boolean(), inForce: z.boolean(), problems: z.array(text),
  }),
);

export const version = z.object({ ...versionInfo.shape, text, fields: z.array(field) });

const changes = z.array(shapeOf<Change>()(z.object({ key: text, from: text, to: text }))).describe('as written, with units');

export const difference = shapeOf<DifferenceAnswer>()(z.object({ from: number, to: number, changes, wordsOnly: z.boolean().describe('nothing means something else, only remarks or notation differ') }));

export const check = shapeOf<CheckAnswer>()(z.object({ problems: z.array(z.object({ place: text, text })), text, fields: z.array(field) }));

export const judgedBy = shapeOf<JudgedBy>()(z.object({ kind: z.enum(['plan', 'thresholds']), key: text, version: versionInfo }));

const inForce = { inForce: textOrNull, next: textOrNull.describe('holds from the next run on'), running: z.boolean() };

export const planInForce = shapeOf<PlanInForce>()(z.object(inForce));

export const planList = shapeOf<PlanList>()(
  z.object({
    ...inForce,
    plans: z.array(z.object({
      key: text, name: text, sha256: text, version: number, wall, who: text, testPressure: number.describe('bar'), holdTime: number.describe('s'),
      lastUsed: number.nullable().describe('ms since 1970; null where no run on record used it'), retired: z.boolean(), inForce: z.boolean(),
    })),
    problems: z.array(z.object({ file: text, text })),
  }),
);

/** Somebody saved meanwhile. */
export const conflict = z.object({ error: text, theirs: changes, yours: changes, newest: versionInfo.nullable() });
