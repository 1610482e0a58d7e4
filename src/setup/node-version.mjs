// Imported first by every script here: an old Node must get a sentence, not a syntax error from deep inside.
// Keep the version in step with "engines" of package.json.
const needed = [20, 19];
const [major, minor] = process.versions.node.split('.').map(Number);

if (major < needed[0] || (major === needed[0] && minor < needed[1])) {
  console.error(`Dwellkeeper needs Node ${needed.join('.')} or newer; this is Node ${process.versions.node}.`);
  process.exit(2);
}
