/** A transducer and the calibration that was in force, as a record names them. */
export interface InstrumentIdentity {
  readonly serial: string;
  readonly certificate: string;
  /** Days such as `2027-03-01`. */
  readonly date: string;
  readonly due: string;
}

/** The identity in the one line that a run's record keeps. */
export const identityText = ({ serial, certificate, date, due }: InstrumentIdentity): string =>
  `transducer ${serial}, certificate ${certificate} of ${date}, due ${due}`;

/** What such a line says; `null` for a line of another form. */
export function identityOf(text: string | undefined): InstrumentIdentity | null {
  const found = /^transducer (.*?), certificate (.*) of (\d{4}-\d\d-\d\d), due (\d{4}-\d\d-\d\d)$/.exec(text ?? '');
  return found === null ? null : { serial: found[1] ?? '', certificate: found[2] ?? '', date: found[3] ?? '', due: found[4] ?? '' };
}
