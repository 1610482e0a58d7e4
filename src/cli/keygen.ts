import { Command } from 'commander';
import { writeKeys } from '../records/key-files.js';

/** `keygen FILE`: a key pair that signs seals. */
export function keygenCommand(): Command {
  return new Command('keygen')
    .description('make a key pair that signs the seals of a bench')
    .argument('[file]', 'where the private key goes; the public one goes beside it', 'signing-key.pem')
    .option('--json', 'print the names of the files and of the key as JSON')
    .addHelpText(
      'after',
      `
The keys are Ed25519 (RFC 8032). The private key can be read by its owner only and is never written over. Name it in the
bench file (signingKey: signing-key.pem) and every seal is signed from the next start on. Give the public key to whoever
checks: dwellkeeper verify records.sqlite --key signing-key.public.pem

Example:
  dwellkeeper keygen bench-2.pem`,
    )
    .action((file: string, flags: { readonly json?: true }) => {
      const made = writeKeys(file);
      if (flags.json) console.log(JSON.stringify(made));
      else console.log(`${made.privateFile}: the private key, for this user only\n${made.publicFile}: the public key, for whoever checks\nIts name beside each signature: ${made.signer}`);
    });
}
