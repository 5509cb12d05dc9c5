import { readFile } from 'node:fs/promises'
import { basename } from 'node:path'
import { checkRegister } from '../model/checkRegister.js'
import { type Fault, sayFault } from '../model/faults.js'
import type { RegisterFile } from '../model/register.js'
import { feedFaults } from './feedRules.js'
import { sayIoError } from './inputFiles.js'
import { parseYaml } from './yamlText.js'

export type ReadRegister =
  | { readonly ok: true; readonly file: RegisterFile; readonly warnings: readonly string[] }
  | {
      readonly ok: false
      /** One sentence for each mistake, such as `register.yaml:14:21 points.CFE.analyzers.CFE-A.unit: …`. */
      readonly problems: readonly string[]
    }

/** Far above any plant; a larger file is a mistake, and aliases could make it grow without end. */
const MAX_REGISTER_BYTES = 4_194_304

/** Reads and checks register.yaml; every mistake is told at once, with file, line and column. */
export async function readRegisterFile(path: string): Promise<ReadRegister> {
  let bytes: Buffer
  try {
    bytes = await readFile(path)
  } catch (error) {
    return { ok: false, problems: [`${path}: ${sayIoError(error as NodeJS.ErrnoException)}`] }
  }
  if (bytes.length > MAX_REGISTER_BYTES) {
    return {
      ok: false,
      problems: [`${path}: ${String(bytes.length)} bytes; must be at most ${String(MAX_REGISTER_BYTES)}`],
    }
  }
  return parseRegister(bytes.toString('utf8'), basename(path))
}

/** As `readRegisterFile`, for text that is at hand. @param name how the file is called in messages */
export function parseRegister(text: string, name: string): ReadRegister {
  const parsed = parseYaml(text, name)
  if (!parsed.ok) return parsed
  const checked = checkRegister(parsed.value)
  const faults = [...(checked.ok ? feedFaults(checked.file) : checked.faults)].sort(parsed.byPlace)
  if (!checked.ok || faults.length > 0) {
    return { ok: false, problems: faults.map(fault => `${parsed.at(fault.path)} ${sayFault(named(fault))}`) }
  }
  const unusual = checked.warnings.map(fault => `${parsed.at(fault.path)} ${fault.field}: ${fault.value} ${fault.rule}`)
  return { ok: true, file: checked.file, warnings: [...parsed.warnings, ...unusual] }
}

function named(fault: Fault): Fault {
  return fault.field === '' ? { ...fault, field: 'register' } : fault
}
