import type { Alert } from './alert.js';

/** A way by which alerts leave the computer. */
export interface Way {
  /** For people and counters: `webhook hooks.example`, `e-mail by mail.example`. Holds no secret. */
  readonly name: string;
  /** Resolves once the other side has taken it. @throws DeliveryError */
  deliver(alert: Alert): Promise<void>;
  /** Checks what can be checked without sending. @throws InputError */
  check(): void;
}

/** An alert that was not taken. */
export class DeliveryError extends Error {
  override readonly name = 'DeliveryError';
  constructor(
    /** One sentence without a full stop and without a secret. */
    message: string,
    /** The other side refused this very message: sending it again brings nothing. */
    readonly final: boolean,
    options?: ErrorOptions,
  ) {
    super(message, options);
  }
}
