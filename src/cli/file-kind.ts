import { benchKeys } from '../acquisition/bench-file.js';
import { planKeys } from '../core/plan.js';
import { inputError } from '../core/problems.js';
import { thresholdKeys } from '../core/thresholds.js';

export type FileKind = 'bench' | 'channel' | 'plan' | 'thresholds' | 'people';

const keysOf = { bench: benchKeys, plan: planKeys, thresholds: thresholdKeys } satisfies Partial<Record<FileKind, readonly string[]>>;

/**
 * What a YAML file is, by its content: the key that names its kind (a plan names a plan in `plan:`, a bench file names a
 * bench; a channel of its own has an `input`), else by which kind knows most of its keys.
 * @throws InputError where it is none of them
 */
export function fileKind(value: unknown, path: string): FileKind {
  if (typeof value !== 'object' || value === null || Array.isArray(value)) {
    throw inputError(path, '', "holds no 'key: value' lines; it should be a bench, plan or thresholds file");
  }
  const keys = Object.keys(value);
  if (keys.includes('bench') || keys.includes('channels')) return 'bench';
  if (keys.includes('input')) return 'channel';
  if (keys.length === 1 && keys[0] === 'people') return 'people';
  const known = (kind: keyof typeof keysOf) => keys.filter((key) => keysOf[kind].includes(key)).length;
  const [best, next] = (['plan', 'thresholds', 'bench'] as const).map((kind) => ({ kind, count: known(kind) })).sort((a, b) => b.count - a.count);
  if (best && next && best.count > 0 && best.count > next.count) return best.kind;
  if (keys.includes('plan')) return 'plan';
  if (keys.includes('thresholds')) return 'thresholds';
  throw inputError(path, '', `is not a bench, plan or thresholds file: none of them has the keys ${keys.join(', ')}`);
}
