import type { Reporter, TestModule } from 'vitest/node'
import type { Tally } from './closing-line.js'
import { closingLine } from './closing-line.js'

/** Ends a run with one plain line, `N passed, N failed`, that a script can read. */
export class ClosingLineReporter implements Reporter {
  onTestRunEnd(modules: readonly TestModule[], unhandledErrors: readonly unknown[]): void {
    const tally: Tally = {
      tests: modules.flatMap(module => [...module.children.allTests()].map(test => test.result().state)),
      groupErrors: modules.flatMap(module => [module, ...module.children.allSuites()]).map(g => g.errors().length),
      unhandledErrors: unhandledErrors.length,
    }
    process.stdout.write(`${closingLine(tally)}\n`)
  }
}
