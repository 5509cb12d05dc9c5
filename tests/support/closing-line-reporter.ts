import type { Reporter, TestModule } from 'vitest/node'
import type { Tally } from './closing-line.js'
import { closingLine } from './closing-line.js'

/** Ends a run with what it left out, and then one plain line, `N passed, N failed`, that a script can read. */
export class ClosingLineReporter implements Reporter {
  /** @param leftOut what the run leaves out, in words, a line each */
  constructor(private readonly leftOut: readonly string[]) {}

  onTestRunEnd(modules: readonly TestModule[], unhandledErrors: readonly unknown[]): void {
    const tally: Tally = {
      tests: modules.flatMap(module => [...module.children.allTests()].map(test => test.result().state)),
      groupErrors: modules.flatMap(module => [module, ...module.children.allSuites()]).map(g => g.errors().length),
      unhandledErrors: unhandledErrors.length,
    }
    process.stdout.write([...this.leftOut, closingLine(tally), ''].join('\n'))
  }
}
