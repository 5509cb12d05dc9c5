import { readdirSync } from 'node:fs'
import { fileURLToPath } from 'node:url'

const FOLDERS = ['brokers', 'faults']
const LONG = '.long.test.ts'

/** Tests that need servers, kill processes, or take minutes: a run of their own. */
export const SERVER_TESTS = [...FOLDERS.map(folder => `tests/${folder}/**/*.test.ts`), `tests/**/*${LONG}`]

/** What the run without them says it left out. */
export function serverTestsNotRun(): string {
  const tests = readdirSync(fileURLToPath(new URL('../..', import.meta.url)), { recursive: true, encoding: 'utf8' })
  const left = tests.filter(
    file => file.endsWith(LONG) || (file.endsWith('.test.ts') && FOLDERS.some(folder => file.startsWith(`${folder}/`))),
  )
  const what = 'with brokers, databases, killed processes and long records'
  return `Not run: ${left.length} files ${what}; npm run test:servers runs them`
}
