import type { Logger } from 'pino'
import { readRegisterFile } from '../../adapters/registerFile.js'
import type { RegisterFile } from '../../model/register.js'

export type ReadRegisters =
  | { readonly ok: true; readonly files: readonly RegisterFile[] }
  | { readonly ok: false; readonly problems: readonly string[] }

/** Reads the registers of all plants; every mistake in all of them is told at once. */
export async function readRegisters(paths: readonly string[], logger: Logger): Promise<ReadRegisters> {
  const files = new Map<string, RegisterFile>()
  const problems: string[] = []
  for (const path of paths) {
    const read = await readRegisterFile(path)
    if (!read.ok) {
      problems.push(...read.problems)
      continue
    }
    for (const warning of read.warnings) logger.warn({ warning }, 'The register is unusual')
    const { plant } = read.file
    if (files.has(plant))
      problems.push(`${path}: the plant ${plant} has a register already; one plant has one register`)
    files.set(plant, read.file)
  }
  return problems.length > 0 ? { ok: false, problems } : { ok: true, files: [...files.values()] }
}
