import { chownSync, closeSync, existsSync, fsyncSync, openSync, readFileSync, renameSync, rmSync, statSync, writeSync } from 'node:fs';
import { parseDocument } from 'yaml';
import { inputError } from '../core/problems.js';
import { readYamlFile } from '../files/yaml-file.js';
import { foldedName, parseName, parsePeople, personNamed, type KnownPerson } from './people.js';

const head = `# Who may use the pages of the bench. Made by 'dwellkeeper people'; names and roles may be edited by hand, secrets are
# hashes and are made by 'dwellkeeper people' only. Name this file in the bench file: 'people: people.yaml'.
`;

/**
 * Reads and checks a file of people.
 * @param from where its bytes are, when a copy stands in for it
 * @throws InputError; also where others than its owner and group may read it
 */
export function readPeople(path: string, from = path): readonly KnownPerson[] {
  const people = readYamlFile(path, from).check(parsePeople);
  if ((statSync(from).mode & 0o007) !== 0) throw inputError(path, '', 'may be read by everybody on this computer; run chmod o= on it: a PIN can be guessed from its hash');
  return people;
}

/** People of a file that may not be there yet. @throws InputError */
export const peopleIn = (path: string): readonly KnownPerson[] => (existsSync(path) ? readPeople(path) : []);

/** @throws InputError where somebody of that name is there already */
export function addPerson(path: string, person: KnownPerson): void {
  const name = parseName(person.name, path);
  if (personNamed(peopleIn(path), name) !== undefined) throw inputError(path, 'name', `'${name}' is there already; 'people change' gives another role or secret`);
  const text = existsSync(path) ? readFileSync(path, 'utf8') : `${head}people: []\n`;
  edit(path, text, (document) => {
    document.addIn(['people'], document.createNode({ ...person, name }));
  });
}

/** @throws InputError where nobody has that name */
export function changePerson(path: string, name: string, change: Partial<Omit<KnownPerson, 'name'>>): KnownPerson {
  const { index, person } = placeOf(path, name);
  edit(path, readFileSync(path, 'utf8'), (document) => {
    for (const [key, value] of Object.entries(change)) document.setIn(['people', index, key], value);
  });
  return { ...person, ...change };
}

/** @throws InputError where nobody has that name, or it is the last one */
export function removePerson(path: string, name: string): KnownPerson {
  const { index, person, people } = placeOf(path, name);
  if (people.length === 1) throw inputError(path, 'name', `'${person.name}' is the only one; take 'people' out of the bench file instead, and the page is for this computer alone`);
  edit(path, readFileSync(path, 'utf8'), (document) => {
    document.deleteIn(['people', index]);
  });
  return person;
}

function placeOf(path: string, name: string): { readonly index: number; readonly person: KnownPerson; readonly people: readonly KnownPerson[] } {
  const people = readPeople(path);
  const index = people.findIndex((one) => foldedName(one.name) === foldedName(name));
  const person = people[index];
  if (person === undefined) throw inputError(path, 'name', `nobody is called '${name.slice(0, 60)}'; there is ${people.map((one) => one.name).join(', ')}`);
  return { index, person, people };
}

/** Comments and the order of what others wrote stay. */
function edit(path: string, text: string, work: (document: ReturnType<typeof parseDocument>) => void): void {
  const document = parseDocument(text);
  work(document);
  // An empty list is written in one line; what comes into it should not be.
  const list = document.get('people');
  if (typeof list === 'object' && list !== null && 'flow' in list) list.flow = false;
  const edited = document.toString({ lineWidth: 0 });
  parsePeople(parseDocument(edited).toJS(), path);
  writeWhole(path, edited);
}

/** Beside, synced, renamed: nobody ever reads half of it. Owner and rights stay; a new file is its owner's alone. */
function writeWhole(path: string, text: string): void {
  const before = statSync(path, { throwIfNoEntry: false });
  const part = `${path}.part`;
  try {
    const handle = openSync(part, 'w', before === undefined ? 0o600 : before.mode & 0o770);
    try {
      writeSync(handle, text);
      fsyncSync(handle);
    } finally {
      closeSync(handle);
    }
    if (before !== undefined && process.getuid?.() === 0) chownSync(part, before.uid, before.gid);
    renameSync(part, path);
  } catch (error) {
    rmSync(part, { force: true });
    throw inputError(path, '', `cannot be written (${(error as NodeJS.ErrnoException).code ?? String(error)})`, error);
  }
}
