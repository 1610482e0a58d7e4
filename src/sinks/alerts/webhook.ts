import { alertJson, type Alert } from './alert.js';
import type { WebhookSettings } from './alert-settings.js';
import { readSecret } from './secret-file.js';
import { DeliveryError, type Way } from './way.js';

/** ms within which the other side must answer. */
const patience = 15_000;

/** Posts each alert as JSON. A redirect is not followed: it could carry the token to somebody else. */
export function webhook({ url, tokenFile }: WebhookSettings, software: string, source = ''): Way {
  const { host } = new URL(url);
  // The path of such an address is often the secret itself.
  const name = `webhook ${host}`;
  const token = () => (tokenFile === undefined ? null : readSecret(tokenFile, source, 'alerts.webhooks.tokenFile'));
  return {
    name,
    check: () => void token(),
    deliver: async (alert: Alert) => {
      const secret = token();
      let response: Response;
      try {
        response = await fetch(url, {
          method: 'POST',
          redirect: 'manual',
          signal: AbortSignal.timeout(patience),
          headers: { 'content-type': 'application/json', 'user-agent': software, ...(secret !== null && { authorization: `Bearer ${secret}` }) },
          body: JSON.stringify(alertJson(alert, software)),
        });
      } catch (cause) {
        throw new DeliveryError(`${host} cannot be reached (${reasonOf(cause)})`, false, { cause });
      }
      await response.body?.cancel();
      if (response.ok) return;
      const final = response.status >= 400 && response.status < 500 && ![401, 403, 404, 408, 425, 429].includes(response.status);
      throw new DeliveryError(`${host} answered ${response.status}`, final);
    },
  };
}

function reasonOf(error: unknown): string {
  if (!(error instanceof Error)) return String(error);
  if (error.name === 'TimeoutError') return `no answer within ${patience / 1000} s`;
  return error.cause instanceof Error ? ('code' in error.cause ? String(error.cause.code) : error.cause.message) : error.message;
}
