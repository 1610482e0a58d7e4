import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { documentRequest } from '../certificate/document-request.js';
import { InputError, problemsOf } from '../core/problems.js';
import { answerFrom } from './desk-answers.js';
import type { OperatorDesk } from './operator-desk.js';

/** Address of each document below a bench, and what it is. */
const documents = [
  ['runs/:run/certificate.pdf', { kind: 'certificate' }],
  ['runs/:run/label.pdf', { kind: 'label', form: 'pdf' }],
  ['runs/:run/label.txt', { kind: 'label', form: 'text' }],
  ['runs/:run/record.json', { kind: 'record', form: 'json' }],
  ['runs/:run/record.csv', { kind: 'record', form: 'csv' }],
  ['runs/:run/trace.csv', { kind: 'trace' }],
  ['orders/:order/order.pdf', { kind: 'order', form: 'pdf' }],
  ['orders/:order/order.zip', { kind: 'order', form: 'zip' }],
] as const;

/** Certificates, labels and records of runs and orders as files. Reads only. `?view` opens it in the browser instead of saving it. */
export function certificateRoutes(app: FastifyInstance, desks: readonly OperatorDesk[]): void {
  for (const [address, what] of documents) {
    app.get(`/api/benches/:bench/${address}`, { config: { needs: 'viewer' } }, (request, reply) => answerFrom(desks, request, reply, (desk) => send(desk, request, reply, what), 404));
  }
}

async function send(desk: OperatorDesk, request: FastifyRequest, reply: FastifyReply, what: object): Promise<FastifyReply> {
  const { run, order } = request.params as Record<string, string>;
  const { view, ...query } = request.query as Record<string, string | undefined>;
  const wanted = { ...query, ...(order === undefined ? { run } : { order }), ...what };
  const found = documentRequest.safeParse(wanted);
  if (!found.success) throw new InputError('document', problemsOf(found.error, wanted, ['assembly', 'paper', 'width', 'charset', 'view']));
  const { name, type, bytes } = await desk.documents.make(found.data);
  return reply
    .header('content-type', type)
    .header('content-disposition', `${view === undefined ? 'attachment' : 'inline'}; filename="${name}"`)
    .header('cache-control', 'no-store')
    .send(Buffer.from(bytes.buffer, bytes.byteOffset, bytes.byteLength));
}
