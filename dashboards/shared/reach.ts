/** ms that an answer may take before a person is told that there is none. */
const patience = 8000;

/** The server was not reached, or did not answer. */
export class NoConnection extends Error {}

/** Asks the server; never waits for ever. @throws NoConnection */
export async function reach(address: string, init: RequestInit): Promise<Response> {
  try {
    return await fetch(address, { ...init, signal: AbortSignal.timeout(patience) });
  } catch {
    throw new NoConnection(init.method === 'GET' ? 'No connection: try again once the page is connected.' : 'No connection: this may not have been saved. Once the page is connected again, look and save it again where it is missing.');
  }
}
