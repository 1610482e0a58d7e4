/** Prints one figure. */
export const say = (what: string, value: number, unit: string): void => {
  console.log(`${what.padEnd(72)} ${value.toPrecision(3).padStart(9)} ${unit}`);
};

/** ms of processor time, which other programs on the machine disturb less than time by the clock. */
export const processorTime = <T>(work: () => T): [T, number] => {
  const began = process.cpuUsage();
  const result = work();
  const { user, system } = process.cpuUsage(began);
  return [result, (user + system) / 1000];
};

/** ms of processor time, the first round left out. */
export const median = (work: () => unknown, rounds = 7): number => {
  const times = Array.from({ length: rounds + 1 }, () => processorTime(work)[1]).slice(1);
  return times.sort((a, b) => a - b)[rounds >> 1] ?? NaN;
};
