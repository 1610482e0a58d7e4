import type { FastifyInstance } from 'fastify';
import { thresholdsKind } from '../library/setting-kind.js';
import { checkAnswer, differenceAnswer, settingAnswer, textOf, versionAnswer } from './setting-answers.js';
import { backRequest, body, differenceQuery, said, saveRequest, settingRequest, versionAddress } from './setting-requests.js';
import { reasonedBy, setupAnswering } from './setup-answering.js';
import type { SettingAnswer } from './setup-answers.js';
import type { SetupDesk } from './setup-desk.js';

const base = '/api/benches/:bench/thresholds';
const read = { config: { needs: 'viewer' } } as const;
const change = { config: { needs: 'engineer' } } as const;

const answerOf = (desk: SetupDesk): SettingAnswer => settingAnswer(desk.thresholds, desk.thresholdsNow ?? { newest: null, problem: null }, desk.thresholdsInForce);
const newestText = ({ thresholdsNow }: SetupDesk): string => thresholdsNow?.newest?.text ?? '';

/** The thresholds of a bench: read, changed in versions, brought back. */
export function thresholdsRoutes(app: FastifyInstance, desks: readonly SetupDesk[]): void {
  const answer = setupAnswering(desks);

  app.get(base, read, (request, reply) => answer(request, reply, answerOf));
  app.get(`${base}/versions/:version`, read, (request, reply) =>
    answer(request, reply, ({ thresholds }) => versionAnswer(thresholds, said(versionAddress, request.params).version)),
  );
  app.get(`${base}/difference`, read, (request, reply) =>
    answer(request, reply, ({ thresholds }) => {
      const { from, to } = said(differenceQuery, request.query);
      return differenceAnswer(thresholds, from, to);
    }),
  );
  app.post(`${base}/check`, read, (request, reply) => answer(request, reply, (desk) => checkAnswer(thresholdsKind, newestText(desk), body(settingRequest, request))));

  app.put(base, change, (request, reply) =>
    answer(request, reply, (desk) => {
      const { base: from, ...wanted } = body(saveRequest, request);
      desk.checkThresholdsMayBeSaved();
      desk.thresholds.save({ base: from, text: textOf(thresholdsKind, from === 0 ? 'thresholds: standard\n' : desk.thresholds.version(from).text, wanted), ...reasonedBy(request) });
      desk.saved();
      return answerOf(desk);
    }),
  );
  app.post(`${base}/back`, change, (request, reply) =>
    answer(request, reply, (desk) => {
      const { to, base: from } = body(backRequest, request);
      desk.thresholds.goBack(to, { base: from, ...reasonedBy(request) });
      desk.saved();
      return answerOf(desk);
    }),
  );
}
