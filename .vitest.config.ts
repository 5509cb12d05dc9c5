import { defineConfig } from 'vitest/config'
import { ClosingLineReporter } from './tests/support/closing-line-reporter.js'
import { SERVER_TESTS, serverTestsNotRun } from './tests/support/servers/serverTests.js'

/** `vitest run` is the suite for every day; `vitest run --mode servers` is the one with brokers, killed processes and years of records. */
export default defineConfig(async ({ mode }) => {
  const servers = mode === 'servers'
  const leftOut = servers
    ? (await import('./tests/support/servers/absentServers.js')).serversNotTested()
    : [serverTestsNotRun()]
  return {
    test: {
      include: servers ? SERVER_TESTS : ['tests/**/*.test.ts'],
      exclude: servers ? [] : [...SERVER_TESTS, 'tests/benchmarks/**'],
      pool: 'forks',
      // Modules are loaded, and warm, once for all files of a worker: the suite takes half the time.
      isolate: servers,
      maxWorkers: '100%',
      // Killed processes and brokers share ports and the processor: one file at a time.
      fileParallelism: !servers,
      testTimeout: servers ? 120_000 : 20_000,
      hookTimeout: servers ? 60_000 : 20_000,
      globals: false,
      reporters: ['default', new ClosingLineReporter(leftOut)],
    },
  }
})
