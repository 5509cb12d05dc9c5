import type { Stats } from 'node:fs'
import { lstat, mkdir, readdir, rename, writeFile } from 'node:fs/promises'
import { basename, join } from 'node:path'
import { type Fault, sayFault } from '../model/faults.js'
import type { RecordedInput, Rejected } from '../model/recordedInput.js'
import { checkMessage } from './checkMessage.js'
import type { CsvMap } from './csvMap.js'
import { readMapFor } from './csvMapFile.js'
import { type CsvDefaults, readInputs } from './inputSource.js'
import type { Plant } from '../model/plant.js'
import { rejected } from './payload.js'

export const DROP_FEED = 'drop'

export interface DropFolderOptions {
  readonly folder: string
  /** The register in force when a file is read. */
  readonly plant: () => Plant
  readonly csv: (map: CsvMap) => CsvDefaults
  /** Takes inputs in order; resolves when all of them are on disk. */
  readonly hand: (inputs: readonly RecordedInput[]) => Promise<void>
}

/** What became of one file. */
export interface DroppedFile {
  readonly file: string
  readonly taken: number
  /** One sentence for each row refused; the rows around it were taken. */
  readonly refused: readonly string[]
}

export interface DropFolder {
  /** Reads what lies in the folder and has not changed since the scan before. */
  readonly scan: () => Promise<readonly DroppedFile[]>
}

const HAND_AT = 500
const REASONS_KEPT = 1_000

/**
 * A folder people put files in: CSV or NDJSON with readings, grab samples, work records. Each file is read once, when
 * two scans found it unchanged, and moved to `done/`, or to `refused/` with a `.reasons` file beside it that names
 * line, field, value and rule. Good rows of a refused file are taken: a mended file may be put in again, for what was
 * taken before is then a repeat. A map `maps/NAME.yaml` says how CSV files whose names begin with NAME are to be read.
 * Hidden files, links and names ending in `.part` are left alone.
 */
export function createDropFolder(options: DropFolderOptions): DropFolder {
  let seen = new Map<string, string>()
  return {
    scan: async () => {
      await mkdir(join(options.folder, 'done'), { recursive: true })
      await mkdir(join(options.folder, 'refused'), { recursive: true })
      const now = await listFiles(options.folder)
      const quiet = [...now].filter(([file, stamp]) => seen.get(file) === stamp).map(([file]) => file)
      seen = now
      const results: DroppedFile[] = []
      for (const file of quiet) {
        seen.delete(file)
        results.push(await takeFile(file, options))
      }
      return results
    },
  }
}

async function listFiles(folder: string): Promise<Map<string, string>> {
  const files = new Map<string, string>()
  for (const name of (await readdir(folder)).sort()) {
    if (name.startsWith('.') || name.endsWith('.part')) continue
    const stats: Stats | undefined = await lstat(join(folder, name)).catch(() => undefined)
    if (stats?.isFile() === true) files.set(join(folder, name), `${String(stats.size)} ${String(stats.mtimeMs)}`)
  }
  return files
}

async function takeFile(file: string, options: DropFolderOptions): Promise<DroppedFile> {
  const plant = options.plant()
  const refused: string[] = []
  let rows: RecordedInput[] = []
  let taken = 0
  let more = 0
  const refuse = (sentence: string): void => {
    if (refused.length < REASONS_KEPT) refused.push(sentence)
    else more += 1
  }
  const handOver = async (): Promise<void> => {
    const due = rows
    rows = []
    if (due.length > 0) await options.hand(due)
  }
  const map = await readMapFor(file, join(options.folder, 'maps'))
  if (!map.ok) {
    await putAway(file, options.folder, map.problems, 0)
    return { file: basename(file), taken: 0, refused: map.problems }
  }
  const problem = await readInputs(file, DROP_FEED, options.csv(map.map), {
    input: (input, name, line) => {
      const place = basename(input.position ?? `${name}:${String(line)}`)
      const faults = isRejected(input.message) ? input.message.faults : checkMessage(input.message, plant)
      if (faults.length === 0) taken += 1
      else refuse(`${place} ${faults.map(sayFault).join('; ')}`)
      // A refused row goes in as such, so that it is counted where all others are.
      const message = faults.length === 0 ? input.message : asRejected(input.message, faults)
      rows.push({ feed: DROP_FEED, position: place, message })
    },
    missing: () => {},
    pause: async () => {
      if (rows.length >= HAND_AT) await handOver()
      return true
    },
  })
  await handOver()
  if (problem !== undefined) refuse(`${basename(file)} ${problem.problem}`)
  if (more > 0) refused.push(`and ${String(more)} more`)
  await putAway(file, options.folder, refused, taken)
  return { file: basename(file), taken, refused }
}

function asRejected(message: unknown, faults: readonly Fault[]): Rejected {
  return isRejected(message) ? message : rejected(faults, JSON.stringify(message))
}

function isRejected(message: unknown): message is Rejected {
  return typeof message === 'object' && message !== null && (message as { kind?: unknown }).kind === 'rejected'
}

/** Moves a file out of the way under a name that is free. */
async function putAway(file: string, folder: string, refused: readonly string[], taken: number): Promise<void> {
  const shelf = join(folder, refused.length > 0 ? 'refused' : 'done')
  const known = new Set(await readdir(shelf))
  let name = basename(file)
  for (let copy = 2; known.has(name); copy += 1) name = `${String(copy)}-${basename(file)}`
  if (refused.length > 0) {
    await writeFile(join(shelf, `${name}.reasons`), `${[`${String(taken)} rows taken`, ...refused].join('\n')}\n`)
  }
  await rename(file, join(shelf, name))
}
