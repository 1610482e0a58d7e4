import { z } from 'zod';
import { documentRequest } from '../../certificate/document-request.js';
import { writtenJob } from '../../records/job.js';
import { visualFindingSchema } from '../../records/visual-finding.js';
import { runAddress } from '../desk-answers.js';
import { noteEntry } from '../entry-routes.js';
import { retestBody } from '../job-routes.js';
import { labelBody } from '../label-routes.js';
import type { Operation, Operations } from './operation.js';
import { jobState, labels, runAbout } from './run-shapes.js';
import { signed } from './signed.js';

const run = runAddress.shape;
const jobs = (does: string, body?: z.ZodType): Operation => ({ area: 'Jobs and runs', does, ...(body && { body }), answers: { 200: { words: 'The jobs as they are then', shape: jobState }, 400: { words: 'Something in it must be corrected; problems name the fields' } } });

const entry = z.discriminatedUnion('kind', [z.strictObject({ ...writtenJob.shape, kind: z.literal('job') }), visualFindingSchema, noteEntry]);

/** A document of a run or an order by its kind. */
function document(does: string, kind: string, type: string, without: readonly string[] = []): Operation {
  const query = documentRequest.options.find(({ shape }) => shape.kind.value === kind);
  return {
    area: 'Documents', does, params: kind === 'order' ? { order: z.string().min(1).max(200) } : run,
    ...(query && { query: z.object({ ...query.shape, view: z.string().optional().describe('there at all: to be opened in the browser instead of saved') }), without: ['kind', 'run', 'order', ...without] }),
    answers: { 200: { words: 'The file', type }, 404: { words: 'No such run or order, or no document of this kind can be made of it, and why' } },
  };
}

/** The job, what is said of runs that are over, and documents of them. */
export const runOperations: Operations = {
  'GET /api/benches/:bench/job': jobs('Tells the jobs of the present, the next and the newest run'),
  'PUT /api/benches/:bench/job': jobs('Keys in the job of the present run, else of the next', signed(z.object({ job: writtenJob }))),
  'POST /api/benches/:bench/job/again': jobs('Takes the job of the newest run once more', signed(z.object({}))),
  'POST /api/benches/:bench/job/retest': jobs('Takes one assembly of a run alone for the next run', signed(retestBody)),
  'DELETE /api/benches/:bench/job': jobs('Puts a waiting job aside'),
  'GET /api/benches/:bench/runs/:run': { area: 'Jobs and runs', does: 'Tells a run that is over: verdict, job, what was said of it', params: run, answers: { 200: { words: 'The run', shape: runAbout }, 404: { words: 'No such run' } } },
  'POST /api/benches/:bench/runs/:run/entries': {
    area: 'Jobs and runs', does: 'Adds to a run: its job, what was seen of the assemblies, or a remark', params: run, body: signed(z.object({ entry })),
    answers: { 200: { words: 'The run as it is then', shape: runAbout }, 400: { words: 'Something in it must be corrected' } },
  },
  'GET /api/benches/:bench/runs/:run/certificate.pdf': document('Gives the certificate of a run', 'certificate', 'application/pdf'),
  'GET /api/benches/:bench/runs/:run/label.pdf': document('Gives a label for a receipt printer', 'label', 'application/pdf', ['form']),
  'GET /api/benches/:bench/runs/:run/label.txt': document('Gives the label as text', 'label', 'text/plain', ['form']),
  'GET /api/benches/:bench/runs/:run/record.json': document('Gives the sealed record', 'record', 'application/json', ['form']),
  'GET /api/benches/:bench/runs/:run/record.csv': document('Gives the record as a table', 'record', 'text/csv', ['form']),
  'GET /api/benches/:bench/runs/:run/trace.csv': document('Gives the trace, all samples, time in s and pressure in bar', 'trace', 'text/csv'),
  'GET /api/benches/:bench/orders/:order/order.pdf': document('Gives all certificates of an order in one file', 'order', 'application/pdf', ['form']),
  'GET /api/benches/:bench/orders/:order/order.zip': document('Gives all documents of an order', 'order', 'application/zip', ['form']),
  'GET /api/benches/:bench/runs/:run/labels': { area: 'Tuning', does: 'Tells what is known of a run in truth', params: run, answers: { 200: { words: 'Labels, and who said them', shape: labels }, 404: { words: 'No such run' } } },
  'POST /api/benches/:bench/runs/:run/labels': {
    area: 'Tuning', does: 'Says what is known of a run in truth', more: 'Appended and sealed. A label that contradicts an earlier one needs its reason (why).', params: run, body: signed(labelBody),
    answers: { 200: { words: 'Labels, and who said them', shape: labels }, 400: { words: 'Something in it must be corrected' } },
  },
};
