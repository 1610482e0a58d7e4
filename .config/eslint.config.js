import { fileURLToPath } from 'node:url';
import js from '@eslint/js';
import ts from 'typescript-eslint';

const root = fileURLToPath(new URL('..', import.meta.url));

export default ts.config(
  { ignores: ['**/*.mjs', '**/*.js', 'dist/**'] },
  js.configs.recommended,
  ...ts.configs.recommendedTypeChecked,
  {
    languageOptions: { parserOptions: { projectService: true, tsconfigRootDir: root } },
    rules: {
      '@typescript-eslint/no-explicit-any': 'error',
      '@typescript-eslint/no-floating-promises': 'error',
      '@typescript-eslint/consistent-type-imports': 'error',
      '@typescript-eslint/switch-exhaustiveness-check': ['error', { considerDefaultExhaustiveForUnions: true }],
      '@typescript-eslint/restrict-template-expressions': 'off',
    },
  },
  // Rules that need types take half of all the lint's time in tests, where a promise that fails unwatched fails the run anyway.
  { files: ['tests/**'], ...ts.configs.disableTypeChecked, languageOptions: { parserOptions: { projectService: false, program: null, project: false } } },
);
