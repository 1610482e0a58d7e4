/**
 * Headers of every answer: nothing is loaded from, framed by or told to any other place (W3C Content Security Policy
 * Level 3). Styles set by script through the CSSOM, as the chart does, are not inline styles in the policy's sense.
 *
 * @param sockets the WebSocket addresses of this server: older browsers do not count them as 'self'
 */
export function pageHeaders(sockets: readonly string[]): Readonly<Record<string, string>> {
  return {
    'content-security-policy': [
      "default-src 'none'",
      "script-src 'self'",
      "style-src 'self'",
      "img-src 'self'",
      `connect-src 'self' ${sockets.join(' ')}`,
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
