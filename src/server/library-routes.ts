import type { FastifyInstance, FastifyRequest } from 'fastify';
import { InputError, inputError } from '../core/problems.js';
import { NotThere } from '../library/not-there.js';
import type { ShelvedPlan } from '../library/plan-library.js';
import { planKind, writtenFields } from '../library/setting-kind.js';
import { findHose } from '../plans/find-hose.js';
import { planForHose } from '../plans/plan-for-hose.js';
import { parseRating } from '../plans/rating.js';
import { authorOf } from './author.js';
import { checkAnswer, differenceAnswer, settingAnswer, textOf, versionAnswer, versionInfo } from './setting-answers.js';
import {
  backRequest, body, checkRequest, chooseRequest, createRequest, differenceQuery, digestAddress, findQuery, hoseRequest, plansAddress, retireRequest, said, saveRequest, versionAddress,
} from './setting-requests.js';
import { reasonedBy, setupAnswering } from './setup-answering.js';
import type { CheckAnswer, JudgedBy, PlanLine, PlanList, SettingAnswer } from './setup-answers.js';
import type { SetupDesk } from './setup-desk.js';
import { thresholdsRoutes } from './thresholds-routes.js';

const base = '/api/benches/:bench';
const read = { config: { needs: 'viewer' } } as const;
const use = { config: { needs: 'operator' } } as const;
const change = { config: { needs: 'engineer' } } as const;

/** The shop's plans and the bench's thresholds: found, read, changed in versions, chosen for the next run. */
export function libraryRoutes(app: FastifyInstance, desks: readonly SetupDesk[]): void {
  const answer = setupAnswering(desks);
  const planOf = (desk: SetupDesk, request: FastifyRequest): ShelvedPlan => desk.library.settled(said(plansAddress, request.params).key);

  app.get(`${base}/plans`, read, (request, reply) => answer(request, reply, (desk) => planList(desk, request.query)));
  app.get(`${base}/plans/:key`, read, (request, reply) => answer(request, reply, (desk) => planAnswer(desk, planOf(desk, request))));
  app.get(`${base}/plans/:key/versions/:version`, read, (request, reply) =>
    answer(request, reply, (desk) => versionAnswer(planOf(desk, request).file, said(versionAddress, request.params).version)),
  );
  app.get(`${base}/plans/:key/difference`, read, (request, reply) =>
    answer(request, reply, (desk) => {
      const { from, to } = said(differenceQuery, request.query);
      return differenceAnswer(planOf(desk, request).file, from, to);
    }),
  );
  app.get(`${base}/judged-by/:sha256`, read, (request, reply) => answer(request, reply, (desk) => judgedBy(desk, said(digestAddress, request.params).sha256)));

  app.post(`${base}/plans/from-hose`, read, (request, reply) => answer(request, reply, () => hosePlan(request)));
  app.post(`${base}/plans/check`, read, (request, reply) =>
    answer(request, reply, (desk) => {
      const { key, ...wanted } = body(checkRequest, request);
      return checkAnswer(planKind, key === undefined ? '' : desk.library.get(key).newest.text, wanted);
    }),
  );

  app.post(`${base}/plan`, use, (request, reply) => answer(request, reply, (desk) => desk.choose(body(chooseRequest, request).key, authorOf(request))));

  app.post(`${base}/plans`, change, (request, reply) =>
    answer(request, reply, (desk) => {
      const { copyOf, ...wanted } = body(createRequest, request);
      const { who, why } = reasonedBy(request);
      const made = copyOf === undefined ? desk.library.create(textOf(planKind, '', wanted), who, why) : desk.library.copy(copyOf, wanted.changes ?? {}, who, why);
      return planAnswer(desk, made);
    }),
  );
  /** Does something to one plan and gives it back as it is then. */
  const changed = (work: (plan: ShelvedPlan, request: FastifyRequest, desk: SetupDesk) => unknown) => (desk: SetupDesk, request: FastifyRequest): SettingAnswer => {
    const plan = planOf(desk, request);
    work(plan, request, desk);
    const now = desk.library.reread(plan.file);
    desk.saved();
    return planAnswer(desk, now);
  };
  const save = changed(({ file }, request) => {
    const { base: from, ...wanted } = body(saveRequest, request);
    file.save({ base: from, text: textOf(planKind, from === 0 ? '' : file.version(from).text, wanted), ...reasonedBy(request) });
  });
  const back = changed(({ file }, request) => {
    const { to, base: from } = body(backRequest, request);
    file.goBack(to, { base: from, ...reasonedBy(request) });
  });
  const retire = changed(({ file, key }, request, desk) => {
    const { inForce, next } = desk.plan();
    if (key === inForce || key === next) throw inputError(key, '', 'runs are judged by it; choose another plan first');
    file.retire({ ...body(retireRequest, request), ...reasonedBy(request) });
  });
  app.put(`${base}/plans/:key`, change, (request, reply) => answer(request, reply, (desk) => save(desk, request)));
  app.post(`${base}/plans/:key/back`, change, (request, reply) => answer(request, reply, (desk) => back(desk, request)));
  app.post(`${base}/plans/:key/retire`, change, (request, reply) => answer(request, reply, (desk) => retire(desk, request)));

  thresholdsRoutes(app, desks);
}

function planList(desk: SetupDesk, query: unknown): PlanList {
  const { find, retired } = said(findQuery, query);
  const { inForce, next, running } = desk.plan();
  const usedAt = desk.lastUsed();
  const plans = desk.library.find(find, usedAt).filter(({ newest }) => retired === '1' || !newest.retired);
  return { plans: plans.map((plan) => planLine(plan, usedAt(plan), plan.key === inForce)), problems: desk.library.problems, inForce, next, running };
}

const planLine = ({ key, plan, newest }: ShelvedPlan, lastUsed: number | null, inForce: boolean): PlanLine => ({
  key, name: plan.plan, sha256: newest.sha256, version: newest.version, wall: newest.wall, who: newest.who,
  testPressure: plan.testPressure, holdTime: plan.holdTime, lastUsed, retired: newest.retired, inForce,
});

const planAnswer = (desk: SetupDesk, { file, key, ...standing }: ShelvedPlan): SettingAnswer => settingAnswer(file, standing, desk.plan().inForce === key);

function judgedBy(desk: SetupDesk, sha256: string): JudgedBy {
  const plan = desk.library.versionWith(sha256);
  if (plan !== null) return { kind: 'plan', key: plan.key, version: versionInfo(plan.version) };
  const thresholds = desk.thresholds.versionWith(sha256);
  if (thresholds === null) throw new NotThere('', 'there is no such version in the library; the record itself holds the text');
  return { kind: 'thresholds', key: desk.thresholds.key, version: versionInfo(thresholds) };
}

/** A plan for a hose, as `dwellkeeper plan` writes it. Saves nothing. */
function hosePlan(request: FastifyRequest): CheckAnswer {
  const { hose, workingPressure, fittingRatings, kind, hold } = body(hoseRequest, request);
  const given = (text: string | undefined): text is string => text !== undefined && text !== '';
  if (given(hose) === given(workingPressure)) throw inputError('', 'hose', "give either the hose, for example ISO 1436 2SN DN12, or its working pressure, for example 275 bar");
  const text = byField(() => {
    const fittings = fittingRatings.filter(given).map((rating) => parseRating(rating, 'fittingRatings'));
    return planForHose({ hose: given(hose) ? findHose(hose) : parseRating(workingPressure ?? '', 'workingPressure'), fittings, kind, hold: given(hold) && kind === 'proof' ? hold : undefined });
  });
  return { text, problems: [], fields: writtenFields(planKind, text, 'plan') };
}

/** The plan maker names options of the command line; in a form they are fields. */
function byField<T>(work: () => T): T {
  try {
    return work();
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    throw new InputError('', error.problems.map(({ place, text }) => ({ place: place === '' ? error.source.replace(/^--/, '') : place, text })), { cause: error });
  }
}
