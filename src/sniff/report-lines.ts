import { shownBytes } from '../../drivers/line-layout.js';
import { hexRows } from './hex-rows.js';
import { digits } from './plausible.js';
import { shownFit } from './register-fit.js';
import type { Attempt, LinesHeard } from './sniff-lines.js';
import { shownSettings } from './sniff-target.js';

const percent = (share: number): string => `${Math.round(share * 100)} %`;
const seconds = (value: number): string => `${value < 10 ? Number(value.toFixed(1)) : Math.round(value)} s`;

/** What was heard on a line, for people; without the bench file. */
export function lineReport(heard: LinesHeard, asked: boolean): string[] {
  const { attempts, settings, fits, lines, bytes } = heard;
  const total = attempts.reduce((sum, { quality }) => sum + quality.bytes, 0);
  const out: string[] = [];
  if (attempts.length > 1 || fits.length === 0) out.push(...attempts.map(attemptRow), '');
  if (total === 0) return [...out, silence(attempts, asked)];
  out.push(`First bytes${settings === null ? '' : ` at ${shownSettings(settings)}`}:`, ...hexRows(bytes).map((row) => `  ${row}`), '');
  if (heard.overheard !== null) return [...out, ...talk(heard.overheard)];
  if (lines.length === 0 && fits.length === 0) return [...out, garbage(attempts)];
  out.push(`${lines.length} whole lines, such as:`, ...[...new Set(lines)].slice(0, 5).map((line) => `  ${shownBytes(line)}`), '');
  const [best] = fits;
  if (best === undefined) {
    return [...out, 'They are text, and nothing in them reads as a number of one line driver. Look for the number yourself and write a pattern: (?<value>...) must name it.'];
  }
  out.push(best.score > 0 ? 'How they can be read, the likeliest first:' : 'They can be read, and no way gives a plausible pressure (say --range, --expect or --unit):');
  out.push(
    ...fits.filter(({ score }) => score >= best.score / 4).slice(0, 5).map(
      (fit, i) => `  ${i + 1}. ${fit.means}: ${digits(fit.readings.at(-1) ?? NaN)} ${fit.unit}${fit.unitNamed ? '' : ' (unit not named)'}; ${percent(fit.understood)} of the lines; ${fit.says}`,
    ),
  );
  return out;
}

const attemptRow = ({ settings, seconds: time, quality, failed }: Attempt): string =>
  `${settings === null ? 'the connection' : shownSettings(settings)}: ${quality.bytes === 0 ? 'nothing' : `${quality.bytes} bytes, ${percent(quality.text)} of them text`} in ${seconds(time)}${failed === undefined ? '' : `; ${failed}`}`;

function silence(attempts: readonly Attempt[], asked: boolean): string {
  const bauds = [...new Set(attempts.flatMap(({ settings, failed }) => (settings === null || failed !== undefined ? [] : [settings.baudRate])))];
  const time = Math.max(0, ...attempts.map((attempt) => attempt.seconds));
  const at = bauds.length === 0 ? '' : ` at ${bauds.join(', ')} baud`;
  const check = 'check that the instrument is switched on, the cable (transmit and receive crossed, RS-232 and RS-485 not mixed, A and B the right way round), and that this is its port';
  const more = asked ? 'the question may be wrong: look in the manual' : "many instruments speak only when they are asked: try --ask '?\\r' with the question of the manual, or --modbus";
  return `Nothing arrived in ${seconds(time)}${at}; ${check}; ${more}.`;
}

function garbage(attempts: readonly Attempt[]): string {
  const bauds = attempts.some(({ settings }) => settings !== null);
  return `Bytes arrive and are text ${bauds ? 'at none of these bauds' : 'in no way known here'}. ${bauds ? 'Another baud (--baud) or parity (--parity) may be right; the two wires of RS-485 may be swapped, or the level inverted; or it' : 'It'} is no instrument that sends lines: try --modbus, or look in its manual.`;
}

function talk({ frames, asked, fits }: NonNullable<LinesHeard['overheard']>): string[] {
  const out = [`This is Modbus RTU: ${frames} frames with a right checksum. Another program or device asks already; two cannot ask on one line.`, ...asked.slice(0, 8).map((each) => `  asked: ${each}`)];
  if (fits.length > 0) out.push('What the answers could be, the likeliest first:', ...fits.slice(0, 5).map((fit) => `  ${shownFit(fit)}: ${digits(fit.readings.at(-1) ?? NaN)}; ${fit.says}`));
  return [...out, 'Disconnect the one that asks, and run this again with --modbus.'];
}
