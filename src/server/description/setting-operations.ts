import { z } from 'zod';
import {
  backRequest, checkRequest, chooseRequest, createRequest, differenceQuery, digestAddress, findQuery, hoseRequest, plansAddress, retireRequest, saveRequest, settingRequest, versionAddress,
} from '../setting-requests.js';
import type { Operation, Operations, Reply } from './operation.js';
import { check, conflict, difference, judgedBy, planInForce, planList, setting, version } from './setting-shapes.js';
import { signed } from './signed.js';

const area = 'Plans and thresholds';
const key = plansAddress.shape;
const wrong: Readonly<Record<400 | 404, Reply>> = { 400: { words: 'Something in it must be corrected; problems name the fields' }, 404: { words: 'No such plan or version' } };
const others: Reply = { words: 'Somebody saved meanwhile: nothing was written, both differences are told', shape: conflict };

const look = (does: string, words: string, shape: z.ZodType, more: Partial<Operation> = {}): Operation => ({ area, does, ...more, answers: { 200: { words, shape }, ...wrong } });
const change = (does: string, body: z.ZodObject, more: Partial<Operation> = {}): Operation => ({
  area, does, body: signed(body, 'reason'), ...more, answers: { 200: { words: 'As it is then', shape: setting }, ...wrong, 409: others },
});

const saving = 'Needs the number of the version that the change was made from (base) and a reason. Runs that are going on keep what they began with.';
const oneVersion = { ...key, ...versionAddress.shape };

/** Plans of the shop and thresholds of the bench. */
export const settingOperations: Operations = {
  'GET /api/benches/:bench/plans': look('Finds plans', 'Plans, and which is in force', planList, { query: findQuery }),
  'GET /api/benches/:bench/plans/:key': look('Gives a plan with its fields and versions', 'The plan', setting, { params: key }),
  'GET /api/benches/:bench/plans/:key/versions/:version': look('Gives one version as it was', 'The version', version, { params: oneVersion }),
  'GET /api/benches/:bench/plans/:key/difference': look('Tells how two versions differ', 'Fields that mean something else', difference, { params: key, query: differenceQuery }),
  'GET /api/benches/:bench/judged-by/:sha256': look('Tells which version a content hash of a record is', 'Plan or thresholds, and the version', judgedBy, { params: digestAddress.shape }),
  'POST /api/benches/:bench/plans/from-hose': look('Makes the text of a plan for a hose', 'The text and its fields; nothing is saved', check, { body: hoseRequest }),
  'POST /api/benches/:bench/plans/check': look('Tells what would be wrong with a plan', 'Problems, the text, its fields; nothing is saved', check, { body: checkRequest }),
  'POST /api/benches/:bench/plan': { area, does: 'Chooses the plan for the next run', body: signed(chooseRequest), answers: { 200: { words: 'Which plan is in force', shape: planInForce }, ...wrong } },
  'POST /api/benches/:bench/plans': change('Makes a plan, or a copy of one', createRequest),
  'PUT /api/benches/:bench/plans/:key': change('Saves a plan as a new version', z.object(saveRequest.shape), { params: key, more: saving }),
  'POST /api/benches/:bench/plans/:key/back': change('Brings an earlier version back, as a new one', backRequest, { params: key }),
  'POST /api/benches/:bench/plans/:key/retire': change('Retires a plan; nothing is deleted', retireRequest, { params: key }),
  'GET /api/benches/:bench/thresholds': look('Gives the thresholds with their fields and versions', 'The thresholds', setting),
  'GET /api/benches/:bench/thresholds/versions/:version': look('Gives one version as it was', 'The version', version, { params: versionAddress.shape }),
  'GET /api/benches/:bench/thresholds/difference': look('Tells how two versions differ', 'Fields that mean something else', difference, { query: differenceQuery }),
  'POST /api/benches/:bench/thresholds/check': look('Tells what would be wrong with thresholds', 'Problems, the text, its fields; nothing is saved', check, { body: settingRequest }),
  'PUT /api/benches/:bench/thresholds': change('Saves the thresholds as a new version', z.object(saveRequest.shape), { more: saving }),
  'POST /api/benches/:bench/thresholds/back': change('Brings an earlier version back, as a new one', backRequest),
};
