/**
 * Hears of every error that nothing else caught, so that a bug in one place does not end the recording. Node's own
 * default would end the process.
 * @returns stops hearing
 */
export function lastResort(heard: (error: unknown) => void): () => void {
  const listener = (error: unknown) => heard(error);
  process.on('unhandledRejection', listener);
  process.on('uncaughtException', listener);
  return () => {
    process.off('unhandledRejection', listener);
    process.off('uncaughtException', listener);
  };
}
