import { defineConfig } from 'eslint/config'
import tseslint from 'typescript-eslint'

/** Folders whose result must depend on their arguments alone: the same journal replays to the same bytes on any machine. */
const PURE_FOLDERS = ['model', 'statistics', 'qualify', 'compare', 'detect', 'diagnose', 'recommend', 'core', 'plan']

const NO_CLOCK = 'The core has no clock: time comes in with the recorded input (atMs).'
const NO_RANDOM = 'The core has no randomness: the same input must give the same bytes.'
const NO_LOCALE = 'The core has no locale or time zone: the result must not depend on the machine.'
const NO_IO = 'The core does no input or output: return a value and let the service act on it.'
const NO_PLATFORM_MATH =
  'The last digit differs between Node versions: use the pure-JavaScript functions of src/statistics/distributions.ts.'
const NO_POWER_OPERATOR =
  'The last digit of ** differs between Node versions: multiply, or use exp and ln of src/statistics/distributions.ts.'

const PLATFORM_MATH = (
  'exp expm1 log log1p log2 log10 pow cbrt hypot sin cos tan asin acos atan atan2 ' + 'sinh cosh tanh asinh acosh atanh'
).split(' ')

const pureGlobals = [
  { name: 'process', message: NO_IO },
  { name: 'console', message: NO_IO },
  { name: 'performance', message: NO_CLOCK },
  { name: 'setTimeout', message: NO_CLOCK },
  { name: 'setInterval', message: NO_CLOCK },
  { name: 'setImmediate', message: NO_CLOCK },
  { name: 'Intl', message: NO_LOCALE },
  { name: 'crypto', message: NO_RANDOM },
  { name: 'globalThis', message: 'Reaching a global by way of globalThis hides a clock, randomness or output.' },
]

const pureProperties = [
  { object: 'Date', property: 'now', message: NO_CLOCK },
  { object: 'Math', property: 'random', message: NO_RANDOM },
  ...PLATFORM_MATH.map(property => ({ object: 'Math', property, message: NO_PLATFORM_MATH })),
  { property: 'localeCompare', message: `${NO_LOCALE} Compare with < and >.` },
  ...['toLocaleString', 'toLocaleDateString', 'toLocaleTimeString', 'toLocaleUpperCase', 'toLocaleLowerCase'].map(
    property => ({ property, message: NO_LOCALE }),
  ),
]

const pureSyntax = [
  { selector: "NewExpression[callee.name='Date'][arguments.length=0]", message: NO_CLOCK },
  { selector: "CallExpression[callee.name='Date']", message: NO_CLOCK },
  { selector: "NewExpression[callee.name='Date'][arguments.length>1]", message: `${NO_LOCALE} Use Date.UTC(...).` },
  {
    selector:
      'MemberExpression[property.name=/^([gs]et(FullYear|Month|Date|Day|Hours|Minutes|Seconds|Milliseconds)|getTimezoneOffset)$/]',
    message: `${NO_LOCALE} Use the UTC method.`,
  },
  { selector: "BinaryExpression[operator='**']", message: NO_POWER_OPERATOR },
  { selector: "AssignmentExpression[operator='**=']", message: NO_POWER_OPERATOR },
]

export default defineConfig(
  { ignores: ['dist/', 'coverage/', '.turbidrift/', 'sample-streams/'] },
  { linterOptions: { reportUnusedDisableDirectives: 'error' } },
  {
    files: ['**/*.ts'],
    extends: [tseslint.configs.strictTypeChecked, tseslint.configs.stylisticTypeChecked],
    languageOptions: { parserOptions: { projectService: true, tsconfigRootDir: import.meta.dirname } },
    rules: {
      eqeqeq: ['error', 'always', { null: 'ignore' }],
      'no-async-promise-executor': 'error',
      'no-cond-assign': 'error',
      'no-constant-binary-expression': 'error',
      'no-dupe-else-if': 'error',
      'no-empty': 'error',
      'no-loss-of-precision': 'error',
      'no-promise-executor-return': 'error',
      'no-self-assign': 'error',
      'no-self-compare': 'error',
      'no-sparse-arrays': 'error',
      'no-template-curly-in-string': 'error',
      'no-unsafe-finally': 'error',
      'no-unused-private-class-members': 'error',
      'no-useless-catch': 'error',
      'use-isnan': 'error',

      '@typescript-eslint/consistent-type-imports': 'error',
      '@typescript-eslint/consistent-type-exports': 'error',
      '@typescript-eslint/switch-exhaustiveness-check': 'error',
      // Without a comparator numbers are sorted as text: 10 before 9.
      '@typescript-eslint/require-array-sort-compare': 'error',
      '@typescript-eslint/no-unused-vars': ['error', { argsIgnorePattern: '^_', varsIgnorePattern: '^_' }],
      '@typescript-eslint/no-confusing-void-expression': ['error', { ignoreArrowShorthand: true }],
      '@typescript-eslint/no-unnecessary-condition': [
        'error',
        { allowConstantLoopConditions: 'only-allowed-literals' },
      ],
      // Numbers in messages are wanted; objects, undefined and any stay forbidden.
      '@typescript-eslint/restrict-template-expressions': ['error', { allowNumber: true, allowBoolean: true }],

      // An index inside checked bounds is asserted: `?? 0` would turn a bug into a reading.
      '@typescript-eslint/no-non-null-assertion': 'off',
      // Shapes inferred from schemas and unions are types, so a plain object may be one too.
      '@typescript-eslint/consistent-type-definitions': 'off',
      // An adapter with nothing to wait for still fulfils an asynchronous port.
      '@typescript-eslint/require-await': 'off',
      // Closing what may be open already, with nothing to do on failure, is a deliberate empty function.
      '@typescript-eslint/no-empty-function': 'off',
    },
  },
  {
    files: ['src/**/*.ts'],
    rules: {
      'no-restricted-exports': [
        'error',
        {
          restrictDefaultExports: {
            direct: true,
            named: true,
            defaultFrom: true,
            namedFrom: true,
            namespaceFrom: true,
          },
        },
      ],
    },
  },
  {
    files: PURE_FOLDERS.map(folder => `src/${folder}/**/*.ts`),
    rules: {
      'no-restricted-globals': ['error', ...pureGlobals],
      'no-restricted-properties': ['error', ...pureProperties],
      'no-restricted-syntax': ['error', ...pureSyntax],
    },
  },
  {
    files: ['src/model/**/*.ts'],
    rules: {
      // The register names a time zone, and only Intl knows which names exist.
      'no-restricted-globals': ['error', ...pureGlobals.filter(({ name }) => name !== 'Intl')],
    },
  },
  {
    files: ['tests/**/*.ts'],
    rules: {
      // Matchers such as expect.any() are typed any; what is compared is still checked at run time.
      '@typescript-eslint/no-unsafe-assignment': 'off',
    },
  },
)
