import { SaveConflict } from '../../src/library/save-conflict.js';
import { planKind } from '../../src/library/setting-kind.js';
import { VersionedFile } from '../../src/library/versioned-file.js';

/**
 * Adds its own mark to a plan again and again, as several programs would at once: `node entry PLAN NAME TIMES`. Whoever is
 * told of a conflict reads the newest version and adds its mark to that. Prints each mark once it was saved.
 */
const [path = '', name = '', times = '0'] = process.argv.slice(2);
const file = new VersionedFile(path, planKind);
for (let i = 1; i <= Number(times); ) {
  const { newest } = file.look();
  const mark = `${name}-${i}`;
  try {
    file.save({ base: newest?.version ?? 0, text: `${newest?.text ?? 'plan: shared\ntestPressure: 550 bar\nholdTime: 60 s\n'}# ${mark}\n`, who: name, why: mark });
    process.stdout.write(`${mark}\n`);
    i++;
  } catch (error) {
    if (!(error instanceof SaveConflict)) throw error;
  }
}
