import { createTransport } from 'nodemailer';
import { alertLine, type Alert } from './alert.js';
import type { EmailSettings } from './alert-settings.js';
import { readSecret, readText } from './secret-file.js';
import { DeliveryError, type Way } from './way.js';

/** ms for each step of the conversation with the server. */
const patience = 20_000;
/** Characters of a subject line; longer ones are cut, the message holds all. */
const subjectAtMost = 120;

/** Mails each alert through an SMTP server, over a connection of its own: there are few, and a kept one goes stale. */
export function email({ server, port, security, caFile, user, passwordFile, from, to }: EmailSettings, software: string, source = ''): Way {
  const password = () => (passwordFile === undefined ? null : readSecret(passwordFile, source, 'alerts.email.passwordFile'));
  return {
    name: `e-mail by ${server}`,
    check: () => {
      password();
      if (caFile !== undefined) readText(caFile, source, 'alerts.email.caFile');
    },
    deliver: async (alert: Alert) => {
      const secret = password();
      const transport = createTransport({
        host: server,
        port: port ?? (security === 'tls' ? 465 : security === 'starttls' ? 587 : 25),
        secure: security === 'tls',
        requireTLS: security === 'starttls',
        ignoreTLS: security === 'none',
        ...(caFile !== undefined && { tls: { ca: readText(caFile, source, 'alerts.email.caFile') } }),
        ...(user !== undefined && secret !== null && { auth: { user, pass: secret } }),
        connectionTimeout: patience,
        greetingTimeout: patience,
        socketTimeout: patience,
        disableFileAccess: true,
        disableUrlAccess: true,
      });
      try {
        const { rejected } = await transport.sendMail({ from, to: [...to], subject: cut(alertLine(alert)), text: textOf(alert, software), headers: { 'auto-submitted': 'auto-generated' } });
        // The others have it: sending it again would only reach them twice.
        if (rejected.length > 0) throw new DeliveryError(`${server} refused ${rejected.map(String).join(', ')}`, true);
      } catch (cause) {
        throw cause instanceof DeliveryError ? cause : deliveryError(server, cause);
      } finally {
        transport.close();
      }
    },
  };
}

const cut = (text: string): string => (text.length <= subjectAtMost ? text : `${text.slice(0, subjectAtMost - 1)}…`);

const since = { begun: 'since', still: 'since', over: 'over at', told: 'at' } as const;

const textOf = (alert: Alert, software: string): string =>
  [alertLine(alert), '', `Bench: ${alert.bench}`, `${since[alert.state]}: ${new Date(alert.wall).toISOString()}`, '', `${software} watches and judges; it is no safety device.`, ''].join('\n');

/** nodemailer's words without what a server may echo of the conversation. */
function deliveryError(server: string, cause: unknown): DeliveryError {
  const { responseCode, code, command } = cause as { readonly responseCode?: number; readonly code?: string; readonly command?: string };
  if (code === 'EAUTH') return new DeliveryError(`${server} does not take the user or the password`, false, { cause });
  if (responseCode !== undefined) return new DeliveryError(`${server} answered ${responseCode}${command === undefined ? '' : ` to ${command}`}`, responseCode >= 500, { cause });
  return new DeliveryError(`${server} cannot be reached (${code ?? (cause instanceof Error ? cause.message : String(cause))})`, false, { cause });
}
