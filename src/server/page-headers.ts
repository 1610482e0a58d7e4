/**
 * Headers of every answer: nothing is loaded from, framed by or told to any other place (W3C Content Security Policy
 * Level 3). Styles set by script through the CSSOM, as the chart does, are not inline styles in the policy's sense.
 *
 * @param host by which the server was asked, once that was found to be its own: older browsers do not count its WebSocket
 * as 'self', and the policy has no way to write an IPv6 address
 */
export function pageHeaders(host: string | null, secure: boolean): Readonly<Record<string, string>> {
  const socket = host === null || host.startsWith('[') ? '' : ` ${secure ? 'wss' : 'ws'}://${host.toLowerCase()}`;
  return {
    'content-security-policy': [
      "default-src 'none'",
      "script-src 'self'",
      "style-src 'self'",
      "img-src 'self'",
      `connect-src 'self'${socket}`,
      "manifest-src 'self'",
      "base-uri 'none'",
      "form-action 'self'",
      "frame-ancestors 'none'",
    ].join('; '),
    'x-content-type-options': 'nosniff',
    'x-frame-options': 'DENY',
    'referrer-policy': 'no-referrer',
    'cross-origin-opener-policy': 'same-origin',
    'cross-origin-resource-policy': 'same-origin',
    'permissions-policy': 'camera=(), microphone=(), geolocation=(), usb=(), serial=()',
  };
}
