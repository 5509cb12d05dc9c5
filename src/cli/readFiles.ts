import type { CsvMap } from '../adapters/csvMap.js'
import { readCsvMap } from '../adapters/csvMapFile.js'
import { readRegisterFile } from '../adapters/registerFile.js'
import type { RegisterFile } from '../model/register.js'
import type { Terminal } from './terminal.js'

/** Reads a register and tells its mistakes and warnings. @returns undefined where it was refused */
export async function loadRegister(path: string, terminal: Terminal): Promise<RegisterFile | undefined> {
  const read = await readRegisterFile(path)
  if (!read.ok) {
    for (const problem of read.problems) terminal.tell(problem)
    return undefined
  }
  for (const warning of read.warnings) terminal.tell(`warning: ${warning}`)
  return read.file
}

/** Reads a map of CSV columns and tells its mistakes. @returns undefined where it was refused */
export async function loadMap(path: string | undefined, terminal: Terminal): Promise<CsvMap | undefined> {
  if (path === undefined) return {}
  const read = await readCsvMap(path)
  if (read.ok) return read.map
  for (const problem of read.problems) terminal.tell(problem)
  return undefined
}
