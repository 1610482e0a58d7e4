import { destination, levels, pino, type Logger } from 'pino';
import { inputError } from '../core/problems.js';

/** Names of the levels, the loudest last, and `silent`. */
export const logLevels: readonly string[] = [...Object.keys(levels.values), 'silent'];

/**
 * Structured log on stderr, one JSON object a line. Synchronous, so that the last words before an end are not lost.
 * @throws InputError for a level that there is not
 */
export function logger(level: string): Logger {
  if (!logLevels.includes(level)) throw inputError('', '--log', `'${level}' should be one of ${logLevels.join(', ')}`);
  const stderr = destination({ dest: 2, sync: true });
  // A closed terminal or a full disk behind stderr must not end the recording.
  stderr.on('error', () => undefined);
  return pino({ level, base: null, timestamp: () => `,"time":"${new Date().toISOString()}"` }, stderr);
}
