import { createRequire } from 'node:module';

/** What this test uses of Ajv. */
interface Validate {
  (value: unknown): boolean;
  readonly errors?: readonly { readonly instancePath: string; readonly message?: string; readonly params: unknown }[] | null;
}
interface Checker {
  addSchema(schema: object, key: string): Checker;
  compile(schema: object): Validate;
}

/** Ajv for draft 2020-12, an independent JSON Schema validator: the one that Fastify brings along. */
function checker(): Checker {
  const here = createRequire(import.meta.url);
  const fastify = createRequire(here.resolve('fastify'));
  const compiler = createRequire(fastify.resolve('@fastify/ajv-compiler'));
  const { Ajv2020 } = compiler('ajv/dist/2020.js') as { readonly Ajv2020: new (options: object) => Checker };
  return new Ajv2020({ strict: false, validateFormats: false, allErrors: true });
}

/** What is wrong with a value by a schema within a document, one line each; none where it is valid. */
export function jsonSchemaChecker(document: object): (schema: object, value: unknown) => string[] {
  const ajv = checker().addSchema(document, 'document:');
  const made = new Map<object, Validate>();
  return (schema, value) => {
    const validate = made.get(schema) ?? ajv.compile(JSON.parse(JSON.stringify(schema).replaceAll('"#/', '"document:#/')) as object);
    made.set(schema, validate);
    if (validate(value)) return [];
    return (validate.errors ?? []).slice(0, 5).map(({ instancePath, message, params }) => `${instancePath} ${message ?? ''} ${JSON.stringify(params)}`);
  };
}

/** What is wrong with a value by a schema of its own. */
export function problemsBy(schema: object, value: unknown): string[] {
  const validate = checker().compile(schema);
  if (validate(value)) return [];
  return (validate.errors ?? []).slice(0, 10).map(({ instancePath, message }) => `${instancePath} ${message ?? ''}`);
}
