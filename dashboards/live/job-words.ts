import type { Job } from './job-client.js';

/** `A17-001 to A17-006` where they follow each other, else the first few. */
export function assembliesWords(serials: readonly string[]): string {
  const [first, last] = [serials[0], serials.at(-1)];
  if (first === undefined || last === undefined) return '';
  if (serials.length <= 2) return serials.join(', ');
  return follow(serials) ? `${serials.length} assemblies, ${first} to ${last}` : `${serials.length} assemblies, ${first} and others`;
}

function follow(serials: readonly string[]): boolean {
  const parts = serials.map((serial) => /^(.*?)(\d+)(\D*)$/.exec(serial));
  return parts.every((part, i) => {
    const before = parts[i - 1];
    if (part === null) return false;
    return i === 0 || (before != null && part[1] === before[1] && part[3] === before[3] && Number(part[2]) === Number(before[2]) + 1);
  });
}

/** A job in one line. */
export function jobWords(job: Job | null): string {
  if (job === null) return '';
  const parts = [
    job.order === undefined ? '' : `order ${job.order}`, job.customer ?? '', assembliesWords(job.assemblies ?? []),
    job.retestOf === undefined ? '' : `retest of run ${job.retestOf}`, job.operator ?? '',
  ].filter((part) => part !== '');
  return parts.length === 0 ? 'without details' : parts.join(' · ');
}
