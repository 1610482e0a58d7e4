/** `npm run faults -- [FAULTS]`: injects faults into every driver, in virtual time, and prints what came of them. */
import { campaign, shown } from './campaign.js';
import { subjects } from './subjects.js';

const total = Number(process.argv[2] ?? 140_000);
console.log(`${'driver'.padEnd(28)}   faults      good  flagged   wrong wrong/fault kept out   slowest recovery in periods (after)`);
let failed = false;
for (const subject of subjects) {
  const tally = campaign(subject, Math.ceil(total / subjects.length), 1);
  console.log(shown(tally));
  for (const error of tally.errors) console.log(`  ${error}`);
  failed ||= tally.errors.length > 0 || (subject.checked && tally.wrong > 0) || tally.slowest > 2 + 1e-9;
}
process.exitCode = failed ? 1 : 0;
