import { basename, dirname, sep } from 'node:path'
import type { Logger } from 'pino'
import { readRegisterFile } from '../adapters/registerFile.js'
import type { RegisterFile } from '../model/register.js'

export type ReadRegisters =
  | { readonly ok: true; readonly files: readonly RegisterFile[] }
  | {
      readonly ok: false
      readonly problems: readonly string[]
      /** Those without a mistake. */
      readonly files: readonly RegisterFile[]
    }

/** Reads the registers of all plants; every mistake in all of them is told at once. */
export async function readRegisters(paths: readonly string[], log: Logger): Promise<ReadRegisters> {
  const files = new Map<string, RegisterFile>()
  const problems: string[] = []
  for (const path of paths) {
    const read = await readRegisterFile(path)
    if (!read.ok) {
      problems.push(...read.problems.map(problem => (paths.length === 1 ? problem : inFolder(path, problem))))
      continue
    }
    for (const warning of read.warnings) log.warn({ warning }, 'The register is unusual')
    const { plant } = read.file
    if (!files.has(plant)) files.set(plant, read.file)
    else problems.push(`${path}: the plant ${plant} has a register already; one plant has one register`)
  }
  const read = [...files.values()]
  return problems.length > 0 ? { ok: false, problems, files: read } : { ok: true, files: read }
}

/** Several registers may have the same file name, with which a problem begins. */
function inFolder(path: string, problem: string): string {
  return problem.startsWith(`${basename(path)}:`) ? `${dirname(path)}${sep}${problem}` : problem
}
