/** What a database said to a request. */
export type Answer =
  | { readonly kind: 'delivered' }
  /** Nobody there, or not able at present: the same again later. `fault`: an answer of 500 or above without its words. `gone`: the program that answered is no longer there. */
  | { readonly kind: 'later'; readonly why: string; readonly fault?: boolean; readonly gone?: boolean }
  /** Not let in, or no such address: a person must do something; the same again later. */
  | { readonly kind: 'closed'; readonly why: string }
  | { readonly kind: 'no-database'; readonly why: string }
  | { readonly kind: 'too-large'; readonly why: string }
  /** Some points will never be taken. `dropped`: how many, where it was said; the others are stored then. */
  | { readonly kind: 'refused'; readonly why: string; readonly dropped: number | null };

/** Anything but a delivery. */
export type Failure = Exclude<Answer, { kind: 'delivered' }>;

/** Words with which servers refuse points for good, whatever the status. */
const forGood = /partial write|unable to parse|field type conflict|beyond retention policy|points? dropped|max-(?:values-per-tag|series-per-database)|invalid (?:number|boolean|field|tag|timestamp)|time outside range/i;

/** What an error of the client, of `fetch` or of the network means. Never throws; keeps only words. */
export function verdictOn(error: unknown): Failure {
  const words = wordsOf(error);
  const [, digits] = /^A (\d{3}) /.exec(words) ?? [];
  if (digits !== undefined) return byStatus(Number(digits), words);
  if (/timed out|aborted due to timeout/i.test(words)) return { kind: 'later', why: 'it does not answer in time' };
  if (/No host available/i.test(words)) return { kind: 'later', why: 'it cannot be reached' };
  // What the client makes of an answer of 500 or above: only the words that go with the number.
  if (error instanceof Error && error.name === 'Error' && codeOf(error) === undefined && isServerFault(words)) return { kind: 'later', why: `it answers '${words}'`, fault: true };
  return { kind: 'later', why: reasonOf(error, words), gone: codeOf(error) !== undefined };
}

function byStatus(status: number, words: string): Failure {
  const why = said(words);
  if (forGood.test(words)) return { kind: 'refused', why, dropped: droppedIn(words) };
  if (status === 404 && /database not found/i.test(words)) return { kind: 'no-database', why };
  if (status === 413) return { kind: 'too-large', why };
  if (status === 401 || status === 403) return { kind: 'closed', why: `it refuses the login (${why})` };
  if (status === 408 || status === 429 || status >= 500) return { kind: 'later', why: `it answers ${why}` };
  if (status === 400 || status === 422) return { kind: 'refused', why, dropped: null };
  return { kind: 'closed', why: `it answers ${why}: is this the address of an InfluxDB or VictoriaMetrics?` };
}

/** Number of points that were not stored, of `partial write: ... dropped=3`. */
function droppedIn(words: string): number | null {
  const [, number] = /dropped[= ](\d+)/i.exec(words) ?? [];
  return number === undefined ? null : Number(number);
}

/** `400 Bad Request error occurred: {"error":"..."}` as `400, ...`. */
function said(words: string): string {
  const [, status, body] = /^A (\d{3}) .*? error occurred: ?([\s\S]*)$/.exec(words) ?? [];
  const [, told] = /"error":"((?:[^"\\]|\\.)*)/.exec(body ?? '') ?? [];
  return [status, (told ?? body ?? words).trim().slice(0, 300)].filter(Boolean).join(', ');
}

const wordsOf = (error: unknown): string => (error instanceof Error ? error.message : String(error));

const codeOf = (error: unknown): string | undefined => {
  const code: unknown = error instanceof Error && 'code' in error ? error.code : undefined;
  return typeof code === 'string' ? code : error instanceof Error && error.cause !== undefined ? codeOf(error.cause) : undefined;
};

const isServerFault = (words: string): boolean => /Internal Server Error|Not Implemented|Bad Gateway|Service Unavailable|Gateway Time|HTTP Version|Insufficient Storage/i.test(words) || words === '';

const reasons: Readonly<Record<string, string>> = {
  ECONNREFUSED: 'nothing listens at this address',
  ENOTFOUND: 'there is no host of this name',
  EAI_AGAIN: 'its name cannot be looked up at present',
  EHOSTUNREACH: 'it cannot be reached',
  ENETUNREACH: 'the network is not there',
  ECONNRESET: 'it closed the connection',
  EPIPE: 'it closed the connection',
  ETIMEDOUT: 'it does not answer in time',
};

const reasonOf = (error: unknown, words: string): string => {
  const code = codeOf(error);
  return code === undefined ? words.slice(0, 300) : (reasons[code] ?? code);
};
