import { make } from '../shared/page-parts.js';

/** The words of JSON Schema that a description uses. */
export interface Schema {
  readonly $ref?: string;
  readonly type?: string | readonly string[];
  readonly const?: unknown;
  readonly enum?: readonly unknown[];
  readonly anyOf?: readonly Schema[];
  readonly oneOf?: readonly Schema[];
  readonly items?: Schema | boolean;
  readonly prefixItems?: readonly Schema[];
  readonly properties?: Readonly<Record<string, Schema>>;
  readonly additionalProperties?: Schema | boolean;
  readonly required?: readonly string[];
  readonly description?: string;
  readonly default?: unknown;
  readonly minimum?: number;
  readonly maximum?: number;
  readonly exclusiveMinimum?: number;
  readonly maxLength?: number;
  readonly pattern?: string;
}

const nameIn = (ref: string): string => ref.split('/').at(-1) ?? '';

/** Where a named shape is on the page. */
export const shapeId = (name: string): string => `shape-${name}`;

/** What a value may be, in few words; named shapes lead to where they are told. */
function kindOf(schema: Schema): (Node | string)[] {
  const { $ref, anyOf, oneOf, items, prefixItems, properties, additionalProperties } = schema;
  if ($ref !== undefined) {
    const link = make('a', '', nameIn($ref));
    link.setAttribute('href', `#${shapeId(nameIn($ref))}`);
    return [link];
  }
  if (schema.const !== undefined) return [JSON.stringify(schema.const)];
  if (schema.enum !== undefined) return [schema.enum.map((one) => JSON.stringify(one)).join(', ')];
  const ways = anyOf ?? oneOf;
  if (ways !== undefined) return ways.flatMap((way, i) => [...(i === 0 ? [] : [' or ']), ...kindOf(way)]);
  if (prefixItems !== undefined) return ['[', ...prefixItems.flatMap((one, i) => [...(i === 0 ? [] : [', ']), ...kindOf(one)]), ']'];
  if (typeof items === 'object') return ['list of ', ...kindOf(items)];
  if (properties !== undefined) return ['object'];
  if (typeof additionalProperties === 'object') return ['object of ', ...kindOf(additionalProperties)];
  return [[schema.type ?? 'anything'].flat().join(' or '), rangeOf(schema)];
}

function rangeOf({ minimum, maximum, exclusiveMinimum, maxLength, default: standing }: Schema): string {
  const whole = maximum === Number.MAX_SAFE_INTEGER ? undefined : maximum;
  const parts = [
    exclusiveMinimum !== undefined ? `above ${exclusiveMinimum}` : minimum !== undefined && minimum !== -Number.MAX_SAFE_INTEGER ? (whole === undefined ? `from ${minimum}` : `${minimum} to ${whole}`) : whole === undefined ? '' : `to ${whole}`,
    maxLength === undefined ? '' : `at most ${maxLength} characters`,
    standing === undefined ? '' : `${JSON.stringify(standing)} where left out`,
  ].filter((part) => part !== '');
  return parts.length === 0 ? '' : `, ${parts.join(', ')}`;
}

/** The schemas within that have fields to tell. */
function within(schema: Schema): readonly Schema[] {
  if (schema.properties !== undefined) return [schema];
  if (typeof schema.items === 'object') return within(schema.items);
  if (typeof schema.additionalProperties === 'object') return within(schema.additionalProperties);
  return [...(schema.anyOf ?? []), ...(schema.oneOf ?? [])].flatMap(within);
}

/** A schema as an indented list of fields. */
export function outlineOf(schema: Schema): HTMLElement {
  const host = make('div', 'outline');
  const parts = within(schema);
  if (parts.length > 1) host.append(make('p', 'kind', 'One of these:'));
  else if (schema.properties === undefined) host.append(make('p', 'kind', ...kindOf(schema)));
  for (const [i, part] of parts.entries()) host.append(...(i > 0 ? [make('p', 'kind', 'or')] : []), fieldsOf(part));
  return host;
}

function fieldsOf({ properties = {}, required = [] }: Schema): HTMLElement {
  const list = make('ul', 'told');
  for (const [name, field] of Object.entries(properties)) {
    const item = make('li', '', make('code', '', name), make('span', 'kind', ...kindOf(field), required.includes(name) ? '' : ', may be left out'));
    if (field.description !== undefined) item.append(make('span', 'said', field.description));
    const inner = within(field);
    for (const one of inner) item.append(fieldsOf(one));
    list.append(item);
  }
  return list;
}
