import { builtinModules } from 'node:module';
import { readdirSync, readFileSync } from 'node:fs';
import { dirname, join, relative } from 'node:path';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';

const root = fileURLToPath(new URL('..', import.meta.url));

/** One import: the file that has it, and what it names: a path from the root for our own files, else the package. */
interface Import {
  readonly file: string;
  readonly target: string;
}

const pattern = /(?:^|[;\s])(?:import|export)\s[^'"`;]*?from\s*['"]([^'"]+)['"]|(?:^|[;\s])import\s*['"]([^'"]+)['"]|import\(\s*['"]([^'"]+)['"]\s*\)|new URL\(\s*['"](\.[^'"]+\.js)['"]/g;

function importsIn(file: string, text: string): Import[] {
  return [...text.matchAll(pattern)].map((match) => {
    const target = match[1] ?? match[2] ?? match[3] ?? match[4] ?? '';
    return { file, target: target.startsWith('.') ? join(dirname(file), target) : target };
  });
}

const sources = ['src', 'drivers', 'simulators', 'dashboards'].flatMap((folder) =>
  readdirSync(join(root, folder), { recursive: true, encoding: 'utf8' })
    .filter((name) => name.endsWith('.ts'))
    .map((name) => join(folder, name)),
);
const imports = sources.flatMap((file) => importsIn(file, readFileSync(join(root, file), 'utf8')));

const isBuiltin = (target: string): boolean => target.startsWith('node:') || builtinModules.includes(target);
const isOwn = (target: string): boolean => /^(src|drivers|simulators|dashboards|tests)\//.test(target);
const below = (...folders: readonly string[]) => (path: string): boolean => folders.some((folder) => path.startsWith(`${folder}/`));

/** A rule: which files it holds for, and what they may not import. */
interface Rule {
  readonly says: string;
  readonly holdsFor: (file: string) => boolean;
  readonly forbids: (target: string, file: string) => boolean;
}

const commandsThatSimulate = /^src\/cli\/(demo|simulate)\b/;

const rules: readonly Rule[] = [
  {
    says: 'src/core runs in Node and in a browser: no Node, no RxJS, nothing of ours from outside, of packages only zod (and papaparse for the import)',
    holdsFor: below('src/core'),
    forbids: (target, file) => (isOwn(target) ? !below('src/core')(target) : !(target === 'zod' || (target === 'papaparse' && below('src/core/import')(file)))),
  },
  {
    says: 'src/operators wrap the core in RxJS and compute nothing',
    holdsFor: below('src/operators'),
    forbids: (target) => (isOwn(target) ? !below('src/core', 'src/operators')(target) : target !== 'rxjs'),
  },
  {
    says: 'src never imports simulators, except the commands that simulate',
    holdsFor: (file) => below('src')(file) && !commandsThatSimulate.test(file),
    forbids: below('simulators'),
  },
  {
    says: 'src never imports pages or tests',
    holdsFor: below('src', 'drivers', 'simulators'),
    forbids: below('dashboards', 'tests'),
  },
  {
    says: 'a driver knows bytes: of src only the core',
    holdsFor: below('drivers'),
    forbids: (target) => isOwn(target) && !below('drivers', 'src/core')(target),
  },
  {
    says: 'simulators stand for the outside world: they know the core and the wire formats of drivers, not the daemon behind them; the fleet feeds real stores',
    holdsFor: (file) => below('simulators')(file) && !below('simulators/fleet')(file),
    forbids: (target) => isOwn(target) && !below('simulators', 'src/core', 'drivers')(target),
  },
  {
    says: 'the store knows nothing of server, sinks and pages',
    holdsFor: below('src/records'),
    forbids: below('src/server', 'src/sinks', 'src/daemon', 'src/cli', 'src/acquisition', 'drivers'),
  },
  {
    says: 'pages run in a browser: no Node, no drivers, no store',
    holdsFor: below('dashboards'),
    forbids: (target) => isBuiltin(target) || below('drivers', 'simulators', 'src/records', 'src/daemon', 'src/cli', 'src/acquisition')(target),
  },
];

const broken = ({ holdsFor, forbids }: Rule, among: readonly Import[]): string[] =>
  among.filter(({ file, target }) => holdsFor(file) && forbids(target, file)).map(({ file, target }) => `${file} imports ${target}`);

describe('the layers', () => {
  it('are read from real files', () => {
    expect(sources.length).toBeGreaterThan(50);
    expect(imports.length).toBeGreaterThan(sources.length);
    expect(imports).toContainEqual({ file: 'src/core/judge.ts', target: 'src/core/run-reader.js' });
  });

  it.each(rules.map((rule) => [rule.says, rule] as const))('%s', (_says, rule) => expect(broken(rule, imports)).toEqual([]));

  // The rules themselves must be able to fail.
  it.each<[string, string]>([
    ['src/core/plan.ts', "import { readFileSync } from 'node:fs';"],
    ['src/core/plan.ts', "import fs from 'fs';"],
    ['src/core/plan.ts', "import { map } from 'rxjs';"],
    ['src/core/plan.ts', "import type { Store } from '../records/store.js';"],
    ['src/core/plan.ts', "import Papa from 'papaparse';"],
    ['src/core/plan.ts', "const fs = await import('node:fs');"],
    ['src/operators/read-runs.ts', "import { z } from 'zod';"],
    ['src/daemon/bench-daemon.ts', "import { pump } from '../../simulators/pump.js';"],
    ['src/cli/start.ts', "import {\n  pump,\n} from '../../simulators/pump.js';"],
    ['drivers/serial-line.ts', "export { serve } from '../src/server/http-server.js';"],
    ['simulators/pump.ts', "import { serve } from '../src/server/http-server.js';"],
    ['src/records/store.ts', "import '../server/http-server.js';"],
    ['dashboards/live/main.ts', "import { join } from 'node:path';"],
    ['src/server/http-server.ts', "import { page } from '../../dashboards/live/page.js';"],
  ])('%s may not say %s', (file, text) => {
    const found = importsIn(file, text);
    expect(found).toHaveLength(1);
    expect(rules.flatMap((rule) => broken(rule, found)).length).toBeGreaterThan(0);
  });

  it('lets the commands that simulate import simulators', () => {
    const found = importsIn('src/cli/simulate.ts', "import { runScenario } from '../../simulators/run-scenario.js';");
    expect(rules.flatMap((rule) => broken(rule, found))).toEqual([]);
  });
});

describe('what a reader may rely on', () => {
  it('has no file called after nothing in particular', () => {
    expect(sources.filter((file) => /(^|\/)(utils?|helpers?|managers?|data|misc|common)(\.ts$|\/)/.test(relative('.', file)))).toEqual([]);
  });

  it('imports our own files with their .js ending (JSON is the exception)', () => {
    expect(imports.filter(({ target }) => isOwn(target) && !/\.(js|json|css)(\?.*)?$/.test(target))).toEqual([]);
  });
});
