import { make, part, say } from '../shared/page-parts.js';
import { offerPages } from '../shared/page-links.js';
import { outlineOf, shapeId, type Schema } from './schema-outline.js';

interface Parameter {
  readonly name: string;
  readonly in: string;
  readonly required: boolean;
  readonly schema: Schema;
  readonly description?: string;
}
interface Operation {
  readonly tags: readonly string[];
  readonly summary: string;
  readonly description: string;
  readonly 'x-needs'?: string;
  readonly parameters?: readonly Parameter[];
  readonly requestBody?: { readonly content: Readonly<Record<string, { readonly schema: Schema }>> };
  readonly responses: Readonly<Record<string, { readonly description: string; readonly content?: Readonly<Record<string, { readonly schema?: Schema }>> }>>;
}
interface Description {
  readonly info: { readonly version: string; readonly description: string };
  readonly tags: readonly { readonly name: string; readonly description: string }[];
  readonly paths: Readonly<Record<string, Readonly<Record<string, Operation>>>>;
  readonly components: { readonly schemas: Readonly<Record<string, Schema>> };
}

/** Text with paragraphs, and code between backquotes. */
function words(text: string): HTMLElement {
  const host = make('div', 'words');
  for (const paragraph of text.split('\n\n')) {
    host.append(make('p', '', ...paragraph.split('`').map((piece, i) => (i % 2 === 0 ? piece : make('code', '', piece)))));
  }
  return host;
}

/** Whoever may do it, and whoever may do more. */
const needsWords = (needs: string | undefined): string => (needs === undefined || needs === 'anyone' ? 'anyone' : needs === 'engineer' ? 'engineer' : `${needs} and above`);

const parameterFields = (parameters: readonly Parameter[]): Schema => ({
  properties: Object.fromEntries(parameters.map(({ name, schema, description }) => [name, { ...schema, ...(description !== undefined && { description }) }])),
  required: parameters.filter(({ required }) => required).map(({ name }) => name),
});

/** Only what is opened is drawn. */
function onceOpened(view: HTMLElement, inside: () => HTMLElement): void {
  view.addEventListener('toggle', () => view.append(inside()), { once: true });
}

function operationView(method: string, path: string, operation: Operation): HTMLElement {
  const { summary, description, parameters = [], requestBody, responses } = operation;
  const head = make('summary', '', make('span', 'method', method.toUpperCase()), make('span', '', make('code', '', path), make('span', 'needs', needsWords(operation['x-needs']))), make('span', 'does', summary));
  const view = make('details', '', head);
  view.dataset['text'] = `${method} ${path} ${summary} ${description} ${operation.tags.join(' ')}`.toLowerCase();
  onceOpened(view, () => {
    const inside = make('div', 'inside', words(description));
    for (const [place, title] of [['path', 'In the address'], ['query', 'In the query']] as const) {
      const some = parameters.filter((one) => one.in === place);
      if (some.length > 0) inside.append(make('h3', '', title), outlineOf(parameterFields(some)));
    }
    const body = requestBody?.content['application/json']?.schema;
    if (body !== undefined) inside.append(make('h3', '', 'Body, JSON'), outlineOf(body));
    for (const [status, { description: said, content = {} }] of Object.entries(responses)) {
      const [type, media] = Object.entries(content)[0] ?? [];
      inside.append(make('h3', '', `${status}: ${said}${type === undefined || type === 'application/json' ? '' : ` (${type})`}`));
      if (media?.schema !== undefined) inside.append(outlineOf(media.schema));
    }
    return inside;
  });
  return view;
}

function draw({ info, tags, paths, components }: Description): void {
  say(part('version'), `Dwellkeeper ${info.version}`);
  part('about').append(words(info.description));
  const all = Object.entries(paths).flatMap(([path, methods]) => Object.entries(methods).map(([method, operation]) => ({ operation, view: operationView(method, path, operation) })));
  for (const { name, description } of tags) {
    part('areas').append(make('section', 'area', make('h2', '', name), make('p', '', description), ...all.filter(({ operation }) => operation.tags.includes(name)).map(({ view }) => view)));
  }
  for (const [name, schema] of Object.entries(components.schemas)) {
    const view = make('details', '', make('summary', '', make('code', '', name)));
    view.id = shapeId(name);
    onceOpened(view, () => make('div', 'inside', ...(schema.description === undefined ? [] : [words(schema.description)]), outlineOf(schema)));
    part('shape-list').append(view);
  }
  const find = part('find') as HTMLInputElement;
  find.addEventListener('input', () => {
    const wanted = find.value.toLowerCase().split(/\s+/).filter((word) => word !== '');
    let shown = 0;
    for (const { view } of all) {
      view.hidden = !wanted.every((word) => (view.dataset['text'] ?? '').includes(word));
      if (!view.hidden) shown++;
    }
    for (const section of document.querySelectorAll<HTMLElement>('.area')) section.hidden = section.querySelector('details:not([hidden])') === null;
    say(part('found'), wanted.length === 0 ? '' : shown === 0 ? 'No address fits.' : `${shown} of ${all.length} addresses`);
  });
  const follow = (): void => {
    const shape = document.getElementById(location.hash.slice(1));
    if (!(shape instanceof HTMLDetailsElement)) return;
    shape.open = true;
    shape.scrollIntoView();
  };
  addEventListener('hashchange', follow);
  follow();
}

offerPages(part('pages'), 'interface');
try {
  const answer = await fetch('../api/openapi.json');
  if (!answer.ok) throw new Error(`${answer.status}`);
  draw((await answer.json()) as Description);
} catch {
  say(part('problem'), 'The description cannot be read; load the page again once the daemon runs.');
}
