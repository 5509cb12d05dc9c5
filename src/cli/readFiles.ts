import { readFile } from 'node:fs/promises'
import { basename } from 'node:path'
import { parseDocument } from 'yaml'
import { checkCsvMap, type CsvMap } from '../adapters/csvMap.js'
import { readRegisterFile } from '../adapters/registerFile.js'
import { sayIoError } from '../adapters/inputFiles.js'
import { sayFault } from '../model/faults.js'
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
  let text: string
  try {
    text = await readFile(path, 'utf8')
  } catch (error) {
    terminal.tell(`${path}: ${sayIoError(error as NodeJS.ErrnoException)}`)
    return undefined
  }
  const document = parseDocument(text, { uniqueKeys: true })
  for (const error of document.errors) terminal.tell(`${basename(path)}: ${error.message}`)
  if (document.errors.length > 0) return undefined
  const checked = checkCsvMap(document.toJS({ maxAliasCount: 100 }) as unknown)
  if (checked.ok) return checked.map
  for (const fault of checked.faults) terminal.tell(`${basename(path)} ${sayFault(fault)}`)
  return undefined
}
