import { execFileSync } from 'node:child_process'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'

const ROOT = fileURLToPath(new URL('../..', import.meta.url))
/** What is killed has to be a process of its own, and Node runs no TypeScript: the built program is tested. */
export const MAIN = join(ROOT, 'dist', 'cli', 'main.js')
export const SENDER = join(ROOT, 'dist', 'service', 'sampleSender.js')
export const SAMPLES = join(ROOT, 'sample-streams')

/** Builds what has changed since the last build. */
export function build(): void {
  const compiler = join(ROOT, 'node_modules', 'typescript', 'bin', 'tsc')
  execFileSync(process.execPath, [compiler, '-p', join(ROOT, '.tsconfig.build.json')], { stdio: 'pipe' })
}
