import { readFile } from 'node:fs/promises'
import { basename } from 'node:path'
import { type Document, isMap, isNode, isScalar, isSeq, LineCounter, type Node, type Pair, parseDocument } from 'yaml'
import { checkRegister, type RegisterFault } from '../model/checkRegister.js'
import { type Fault, sayFault } from '../model/faults.js'
import type { RegisterFile } from '../model/register.js'
import { sayIoError } from './inputFiles.js'

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
  const lines = new LineCounter()
  const document = parseDocument(text, { lineCounter: lines, uniqueKeys: true, prettyErrors: false })
  const at = (offset: number): string => {
    const { line, col } = lines.linePos(offset)
    return `${name}:${String(line)}:${String(col)}`
  }
  if (document.errors.length > 0) {
    return { ok: false, problems: document.errors.map(error => `${at(error.pos[0])} ${error.message}`) }
  }
  let value: unknown
  try {
    value = document.toJS({ maxAliasCount: 100 })
  } catch (error) {
    return { ok: false, problems: [`${name}: ${error instanceof Error ? error.message : 'cannot be read'}`] }
  }
  const checked = checkRegister(value)
  const place = (fault: Fault): string => at(offsetOf(document, (fault as RegisterFault).path))
  if (!checked.ok) {
    const faults = [...checked.faults].sort(byPlace(document))
    return { ok: false, problems: faults.map(fault => `${place(fault)} ${sayFault(named(fault))}`) }
  }
  const odd = document.warnings.map(warning => `${at(warning.pos[0])} ${warning.message}`)
  const unusual = checked.warnings.map(fault => `${place(fault)} ${fault.field}: ${fault.value} ${fault.rule}`)
  return { ok: true, file: checked.file, warnings: [...odd, ...unusual] }
}

function named(fault: Fault): Fault {
  return fault.field === '' ? { ...fault, field: 'register' } : fault
}

function byPlace(document: Document): (a: RegisterFault, b: RegisterFault) => number {
  return (a, b) => offsetOf(document, a.path) - offsetOf(document, b.path)
}

/** Where a path stands: a scalar at its value, anything else at its key; what is absent, where it should have been. */
function offsetOf(document: Document, path: readonly (string | number)[]): number {
  let node: Node | null = isNode(document.contents) ? document.contents : null
  let offset = node?.range?.[0] ?? 0
  for (const key of path) {
    if (isMap(node)) {
      const pair: Pair | undefined = node.items.find(
        item => String(isScalar(item.key) ? item.key.value : item.key) === String(key),
      )
      if (pair === undefined) return offset
      node = isNode(pair.value) ? pair.value : null
      const written = isScalar(node) && node.source !== '' ? node : pair.key
      offset = (isNode(written) ? written.range?.[0] : undefined) ?? offset
    } else if (isSeq(node)) {
      const item: unknown = node.items[Number(key)]
      if (!isNode(item)) return offset
      node = item
      offset = item.range?.[0] ?? offset
    } else return offset
  }
  return offset
}
