/** Resolves with the name of the first signal that asks the program to end. A second one ends it at once. */
export function endSignal(): Promise<NodeJS.Signals> {
  return new Promise((resolve) => {
    let asked = false;
    const heard = (signal: NodeJS.Signals) => {
      if (asked) process.exit(130);
      asked = true;
      resolve(signal);
    };
    for (const signal of ['SIGINT', 'SIGTERM', 'SIGHUP'] as const) process.on(signal, heard);
  });
}
