/** Colours of the trace, taken from the page's style sheet so that light and dark live in one place. */
export interface Theme {
  readonly ink: string;
  readonly faint: string;
  readonly grid: string;
  readonly paper: string;
  readonly trace: string;
  readonly earlier: string;
  readonly limit: string;
  readonly target: string;
  readonly hold: string;
  readonly gap: string;
  readonly grave: string;
  readonly event: string;
}

export function readTheme(): Theme {
  const style = getComputedStyle(document.documentElement);
  const colour = (name: string): string => style.getPropertyValue(`--${name}`).trim();
  return {
    ink: colour('ink'), faint: colour('faint'), grid: colour('grid'), paper: colour('paper'), trace: colour('trace'),
    earlier: colour('earlier'), limit: colour('limit'), target: colour('target'), hold: colour('hold'), gap: colour('gap'),
    grave: colour('bad'), event: colour('event'),
  };
}
