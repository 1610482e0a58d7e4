import { Ajv2020, type ValidateFunction } from 'ajv/dist/2020.js';

/** Ajv for draft 2020-12, an independent JSON Schema validator. */
const checker = (): Ajv2020 => new Ajv2020({ strict: false, validateFormats: false, allErrors: true });

/** What is wrong with a value by a schema within a document, one line each; none where it is valid. */
export function jsonSchemaChecker(document: object): (schema: object, value: unknown) => string[] {
  const ajv = checker().addSchema(document, 'document:');
  const made = new Map<object, ValidateFunction>();
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
