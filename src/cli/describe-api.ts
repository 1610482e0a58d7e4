import { Command } from 'commander';
import { apiDescription } from '../server/description/api-description.js';
import { software } from './program.js';

/** `describe-api`: the HTTP interface of the daemon as OpenAPI 3.1 on stdout, as `start` serves it. Needs no daemon. */
export function describeApiCommand(): Command {
  return new Command('describe-api')
    .description('write the description of the HTTP interface as OpenAPI 3.1')
    .addHelpText('after', '\nEverything that the pages use, as JSON. The same is served by a daemon at /api/openapi.json, and as a page at /interface/.\n\nExample:\n  dwellkeeper describe-api > dwellkeeper-openapi.json')
    .action(async () => {
      console.log(JSON.stringify(await apiDescription({ version: software.split(' ').at(-1) ?? software }), undefined, 2));
    });
}
