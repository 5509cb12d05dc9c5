import { readdir, readFile } from 'node:fs/promises'
import { basename, join } from 'node:path'
import { parseDocument } from 'yaml'
import { sayFault } from '../model/faults.js'
import { checkCsvMap, type CsvMap } from './csvMap.js'
import { sayIoError } from './inputFiles.js'

export type ReadCsvMap =
  | { readonly ok: true; readonly map: CsvMap }
  | { readonly ok: false; /** One sentence for each mistake. */ readonly problems: readonly string[] }

/** Reads and checks a map of CSV columns (YAML); every mistake is told at once. */
export async function readCsvMap(path: string): Promise<ReadCsvMap> {
  let text: string
  try {
    text = await readFile(path, 'utf8')
  } catch (error) {
    return { ok: false, problems: [`${path}: ${sayIoError(error as NodeJS.ErrnoException)}`] }
  }
  const document = parseDocument(text, { uniqueKeys: true })
  if (document.errors.length > 0)
    return { ok: false, problems: document.errors.map(error => `${basename(path)}: ${error.message}`) }
  const checked = checkCsvMap(document.toJS({ maxAliasCount: 100 }) as unknown)
  return checked.ok ? checked : { ok: false, problems: checked.faults.map(one => `${basename(path)} ${sayFault(one)}`) }
}

/**
 * The map for a file out of a folder of maps: `historian.yaml` is for every file whose name begins with `historian`;
 * of several the longest name. Without one the columns are read by their names.
 */
export async function readMapFor(file: string, maps: string): Promise<ReadCsvMap> {
  const names = await readdir(maps).catch(() => [])
  const fitting = names.filter(name => name.endsWith('.yaml') && basename(file).startsWith(name.slice(0, -5)))
  const [longest] = fitting.sort((a, b) => b.length - a.length || (a < b ? -1 : 1))
  return longest === undefined ? { ok: true, map: {} } : readCsvMap(join(maps, longest))
}
