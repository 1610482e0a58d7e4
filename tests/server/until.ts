/** Waits until the condition holds; fails with `what` when it does not within the deadline (ms). */
export async function until(what: string, condition: () => boolean | Promise<boolean>, deadline = 20_000): Promise<void> {
  const end = performance.now() + deadline;
  while (!(await condition())) {
    if (performance.now() > end) throw new Error(`${what}: not within ${deadline} ms`);
    await new Promise((resolve) => setTimeout(resolve, 10));
  }
}
