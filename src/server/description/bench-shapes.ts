import { z } from 'zod';
import { roles, type Person } from '../../access/roles.js';
import { pressureUnits, type PressureUnit } from '../../core/units.js';
import type { Health } from '../../watch/health.js';
import { auditKinds, type AuditChain, type AuditPage, type ToldEntry } from '../audit-answers.js';
import type { BenchHealth, RunSummary } from '../bench-feed.js';
import type { BenchLine, EnvelopeAnswer } from '../bench-routes.js';
import { foundEvent, number, numberOrNull, text, textOrNull, verdict, wall } from './outcome-shapes.js';
import { shapeOf } from './shape-of.js';

export const person = shapeOf<Person>()(z.object({ name: textOrNull.describe('null at a bench without people'), role: z.enum(roles) }));

export const me = z.object({ signIn: z.boolean().describe('whether anybody needs to sign in'), person: person.nullable() });

export const health = shapeOf<Health>()(
  z.object({
    healthy: z.boolean(), reasons: z.array(text),
    benches: z.array(z.object({ bench: text, recording: z.boolean(), channels: z.array(z.object({ channel: text, link: text, age_s: numberOrNull.describe('s since the newest reading') })) })),
    late_s: number.describe("s that the program's own beat is late"),
  }),
);

const benchHealth = shapeOf<BenchHealth>()(
  z.object({
    dataAge: numberOrNull.describe('s since the newest sample was received'), recording: z.boolean(), lid: z.enum(['open', 'closed']).nullable().describe('null where there is no lid contact'),
    contacts: z.array(z.object({ contact: z.enum(['lid', 'pump', 'vent']), state: z.enum(['open', 'closed', 'on', 'off']).nullable().describe('null where it cannot be read') })).optional(),
    notices: z.array(z.object({ weight: z.enum(['alarm', 'warning', 'remark']), text })),
  }),
);

export const benchLine = shapeOf<BenchLine>()(
  z.object({
    name: text, unit: z.enum(pressureUnits as [PressureUnit, ...PressureUnit[]]), phase: z.enum(['vented', 'rising', 'settling', 'holding', 'venting']),
    verdict: z.enum(['pending', 'pass', 'fail', 'inconclusive']).nullable(), sentence: text, health: benchHealth,
  }),
);

export const runSummary = shapeOf<RunSummary>()(
  z.object({
    id: text, session: text.describe('from and to are on the clock of this session of the daemon'), from: number.describe('s'), to: number.describe('s'), wall, verdict, plan: textOrNull, reasons: z.array(text),
    peak: numberOrNull.describe('bar'), holds: z.array(z.object({ from: number, to: number })).describe('s'), events: z.array(foundEvent), visual: textOrNull,
  }),
);

export const envelope = shapeOf<EnvelopeAnswer>()(
  z.object({ time_s: z.array(number), pressure_bar: z.array(numberOrNull).describe('a missing sample is null and breaks the line'), samples: number.describe('how many were thinned into it') }),
);

export const auditEntry = shapeOf<ToldEntry>()(
  z.object({
    number, wall, who: text, subject: text, what: text, why: textOrNull, details: z.json(), kind: z.enum(auditKinds),
    changes: z.array(z.object({ key: text, from: text, to: text })).describe('of a channel or a calibration: what differs from the entry before'), run: numberOrNull.describe('of a job: the run that it waited for'),
  }),
);

export const auditPage = shapeOf<AuditPage>()(z.object({ entries: z.array(auditEntry), before: numberOrNull.describe('ask again with before=BEFORE; null when all were looked at'), looked: number, onRecord: number }));

export const auditChain = shapeOf<AuditChain>()(z.object({ entries: number, signed: number, lastSeal: textOrNull, breaches: z.array(text), more: number }));
