import { existsSync } from 'node:fs';
import { Command, Option } from 'commander';
import { parseName, personNamed } from '../access/people.js';
import { addPerson, changePerson, peopleIn, readPeople, removePerson } from '../access/people-file.js';
import { roles, roleWords, type Role } from '../access/roles.js';
import { hashSecret } from '../access/secret-hash.js';
import { secretProblem } from '../access/secret-rules.js';
import { inputError } from '../core/problems.js';
import { readSecretLine } from './read-secret.js';

interface Flags {
  readonly file: string;
}
interface RoleFlag extends Flags {
  readonly role: Role;
}
interface ChangeFlags extends Flags {
  readonly role?: Role;
  readonly secret?: true;
}
interface ListFlags extends Flags {
  readonly json?: true;
}

const usualFile = 'people.yaml';

/** `people`: who may use the pages of a bench from other machines. */
export function peopleCommand(): Command {
  const command = new Command('people')
    .description('say who may use the pages of a bench, and as what')
    .addHelpText(
      'after',
      `
Roles:
${roles.map((role) => `  ${role.padEnd(9)} ${roleWords[role]}`).join('\n')}

A PIN has at least 6 digits, a pass phrase at least 8 characters; an engineer needs a pass phrase of at least 12. It is
typed and not shown, or comes as the first line of stdin; kept is a hash alone (scrypt, RFC 7914). Name the file in the
bench file (people: people.yaml); a running bench takes a change within seconds, and whoever was removed is signed out.

Examples:
  dwellkeeper people add 'J. Doe' --role operator
  dwellkeeper people change 'J. Doe' --secret
  dwellkeeper people list`,
    );
  const of = (name: string, summary: string) => command.command(name).description(summary).option('--file <file>', 'the list of people', usualFile);
  const role = () => new Option('--role <role>', roles.map((one) => `${one}: ${roleWords[one]}`).join('; ')).choices(roles);
  of('add', 'add somebody').argument('<name>', 'as it will stand in the records').addOption(role().makeOptionMandatory()).action(add);
  of('change', 'give somebody another role, another PIN or pass phrase, or both').argument('<name>').addOption(role()).option('--secret', 'ask for another PIN or pass phrase').action(change);
  of('remove', 'take somebody off the list; what they did stays on record').argument('<name>').action(remove);
  of('list', 'who is on the list').option('--json', 'print it as JSON').action(list);
  return command;
}

async function add(name: string, { file, role }: RoleFlag): Promise<void> {
  const isNew = !existsSync(file);
  const person = { name: parseName(name, file), role };
  // Before anybody types a secret for nothing.
  if (personNamed(peopleIn(file), name) !== undefined) throw inputError(file, 'name', `'${name}' is there already; 'people change' gives another role or secret`);
  addPerson(file, { ...person, secret: await newSecret(person.name, role) });
  console.log(`${file}: ${person.name} is ${role}${isNew ? `\nName the file in the bench file, relative to it: people: ${file}` : ''}`);
}

async function change(name: string, { file, role, secret }: ChangeFlags): Promise<void> {
  const person = personNamed(readPeople(file), name);
  if (person === undefined) throw inputError(file, 'name', `nobody is called '${name.slice(0, 60)}'`);
  if (role === undefined && secret !== true) throw inputError('people change', '', 'say what is to change: --role, --secret or both');
  if (role === 'engineer' && person.role !== 'engineer' && secret !== true) throw inputError('people change', '--role', `an engineer needs a pass phrase of at least 12 characters; add --secret to type a new one`);
  const changed = changePerson(file, name, { ...(role && { role }), ...(secret === true && { secret: await newSecret(person.name, role ?? person.role) }) });
  console.log(`${file}: ${changed.name} is ${changed.role}${secret === true ? ', with a new secret' : ''}`);
}

function remove(name: string, { file }: Flags): void {
  const { name: removed } = removePerson(file, name);
  console.log(`${file}: ${removed} is no longer on it`);
}

function list({ file, json }: ListFlags): void {
  const people = readPeople(file).map(({ name, role }) => ({ name, role }));
  if (json) console.log(JSON.stringify(people));
  else for (const { name, role } of people) console.log(`${name}: ${role}, ${roleWords[role]}`);
}

async function newSecret(name: string, role: Role): Promise<string> {
  const secret = await readSecretLine(name);
  const problem = secretProblem(secret, name, role);
  if (problem !== null) throw inputError('people', 'PIN or pass phrase', problem);
  return hashSecret(secret);
}
