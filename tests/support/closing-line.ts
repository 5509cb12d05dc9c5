/** What a test run came to. */
export interface Tally {
  /** End state of each test. */
  readonly tests: readonly ('passed' | 'failed' | 'skipped' | 'pending')[]
  /** Number of errors outside tests in each file and each `describe`: import, collection, `beforeAll`, `afterAll`. */
  readonly groupErrors: readonly number[]
  /** Number of errors that belong to no file, such as a rejected promise nobody awaited. */
  readonly unhandledErrors: number
}

/**
 * The line a run ends with: `N passed, N failed`, and `, N skipped` where tests were left out.
 * A test without a result, a file or `describe` with errors of its own, and each unhandled error count as failed.
 */
export function closingLine({ tests, groupErrors, unhandledErrors }: Tally): string {
  const count = (state: Tally['tests'][number]) => tests.filter(test => test === state).length
  const failed = count('failed') + count('pending') + groupErrors.filter(errors => errors > 0).length + unhandledErrors
  const skipped = count('skipped')
  return `${count('passed')} passed, ${failed} failed${skipped > 0 ? `, ${skipped} skipped` : ''}`
}
