// Data flows down this list: a folder imports only from folders above it, plus model and statistics.
const ORDER = [
  'model',
  'statistics',
  'qualify',
  'compare',
  'detect',
  'diagnose',
  'recommend',
  'core',
  'plan',
  'simulate',
  'report',
  'adapters',
  'service',
  'cli',
]

const EXCEPTIONS = {
  model: ['statistics'],
  statistics: [],
  // The invented plant must not know how it will be judged.
  simulate: ['model', 'statistics'],
}

const PURE = ORDER.slice(0, ORDER.indexOf('simulate'))
const PURE_PACKAGES = ['^node_modules/(zod|uuid|simple-statistics)/', '^node_modules/@stdlib/']

const folderRules = ORDER.map((folder, position) => {
  const allowed = [folder, ...(EXCEPTIONS[folder] ?? ORDER.slice(0, position))]
  return {
    name: `order-of-folders-${folder}`,
    comment: `src/${folder} may import only from: ${allowed.join(', ')}. Type-only imports count.`,
    severity: 'error',
    from: { path: `^src/${folder}/` },
    to: { path: '^src/', pathNot: `^src/(${allowed.join('|')})/` },
  }
})

/** @type {import('dependency-cruiser').IConfiguration} */
module.exports = {
  forbidden: [
    ...folderRules,
    {
      name: 'known-folder',
      comment: `Every source file lies in one of: ${ORDER.join(', ')}.`,
      severity: 'error',
      from: { path: '^src/', pathNot: `^src/(${ORDER.join('|')})/` },
      to: {},
    },
    {
      name: 'no-cycles',
      comment: 'Files do not import each other in a circle; inside one folder a type-only import may close it.',
      severity: 'error',
      from: { path: '^src/' },
      to: { circular: true, viaOnly: { dependencyTypesNot: ['type-only'] } },
    },
    {
      name: 'pure-folders-do-no-io',
      comment: 'Pure folders use neither Node built-ins nor packages other than zod, uuid, simple-statistics, @stdlib.',
      severity: 'error',
      from: { path: `^src/(${PURE.filter(folder => folder !== 'model').join('|')})/` },
      to: { pathNot: ['^src/', ...PURE_PACKAGES] },
    },
    {
      name: 'model-does-no-io',
      comment: 'As the other pure folders, and yaml to read a register and node:crypto to hash it.',
      severity: 'error',
      from: { path: '^src/model/' },
      to: { pathNot: ['^src/', ...PURE_PACKAGES, '^node_modules/yaml/', '^(node:)?crypto$'] },
    },
    {
      name: 'only-declared-packages',
      comment: 'What runs at the plant is listed under dependencies in package.json.',
      severity: 'error',
      from: { path: '^src/' },
      to: { dependencyTypes: ['npm-dev', 'npm-no-pkg', 'npm-unknown'], dependencyTypesNot: ['type-only'] },
    },
    {
      name: 'resolvable',
      comment: 'The import leads nowhere.',
      severity: 'error',
      from: { path: '^src/' },
      to: { couldNotResolve: true },
    },
    {
      name: 'source-stands-alone',
      comment: 'Source does not import tests, samples or deployment files.',
      severity: 'error',
      from: { path: '^src/' },
      to: { path: '^(tests|sample-streams|deploy|dist)/' },
    },
  ],
  options: {
    doNotFollow: { path: 'node_modules' },
    tsConfig: { fileName: 'tsconfig.json' },
    tsPreCompilationDeps: true,
    enhancedResolveOptions: { exportsFields: ['exports'], conditionNames: ['import', 'node', 'default', 'types'] },
  },
}
