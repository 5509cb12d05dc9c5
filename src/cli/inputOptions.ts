import { statSync } from 'node:fs'
import { type Command, Option } from 'commander'
import type { CsvMap } from '../adapters/csvMap.js'
import { csvDefaults, isCsvName } from '../adapters/inputSource.js'
import type { InputFile } from '../adapters/mergedInputs.js'
import { resolvePlant } from '../model/plant.js'
import type { RegisterFile } from '../model/register.js'
import { isTimeZone } from '../model/timeZone.js'
import { draftFrom } from './draftFrom.js'
import { loadMap, loadRegister } from './readFiles.js'
import { EXIT, type Terminal } from './terminal.js'

/** Where a command that replays gets its record from. */
export interface InputOptions {
  readonly register?: string
  readonly inputs: readonly string[]
  readonly csv?: readonly string[]
  readonly grabs?: string
  readonly work?: string
  readonly map?: string
  readonly grabsMap?: string
  readonly workMap?: string
  readonly timeZone?: string
  readonly plant?: string
  readonly ticks?: 'auto' | 'event' | 'recorded'
}

export function addInputOptions(command: Command): Command {
  return command
    .option('--register <file>', 'register.yaml; may be left out for CSV, and for a recording that holds its register')
    .option('--csv <file...>', 'CSV exports of readings, long or wide, merged by time')
    .option('--grabs <file>', 'CSV of grab samples, merged by time')
    .option('--work <file>', 'CSV of work records, merged by time')
    .option('--map <file>', 'how the columns of --csv are to be read (YAML); default: by their names')
    .option('--grabs-map <file>', 'the same for --grabs')
    .option('--work-map <file>', 'the same for --work')
    .option('--time-zone <zone>', 'zone of times without offset where no register says; default UTC')
    .option('--plant <name>', 'name of the plant where no register says; default: that of the first file')
    .addOption(
      new Option(
        '--ticks <source>',
        'who moves plant time: event = the times of the messages, recorded = ticks in the input, ' +
          'auto = recorded where there is a tick among the first 20,000 inputs',
      )
        .choices(['auto', 'event', 'recorded'])
        .default('auto'),
    )
}

/** What is ready to be replayed. */
export interface PreparedInputs {
  readonly files: readonly InputFile[]
  /** Undefined where the record has to hold its own. */
  readonly register: RegisterFile | undefined
  /** True where the register was drafted from the record. */
  readonly drafted: boolean
  readonly totalBytes: number | undefined
}

/** Reads register and maps, drafts a register where none is given; tells what is wrong. @returns or an exit code */
export async function prepareInputs(options: InputOptions, terminal: Terminal): Promise<PreparedInputs | number> {
  const readings = [...options.inputs, ...(options.csv ?? [])]
  if (readings.length === 0) {
    terminal.tell('nothing to read: name an input, or --csv FILE')
    return EXIT.usage
  }
  const timeZone = options.timeZone ?? 'UTC'
  if (!isTimeZone(timeZone)) {
    terminal.tell(`--time-zone ${timeZone} is refused: must be a time zone such as Europe/London`)
    return EXIT.usage
  }
  const parts: { path: string; map: CsvMap }[] = []
  for (const [paths, mapPath] of [
    [readings, options.map],
    [options.grabs === undefined ? [] : [options.grabs], options.grabsMap],
    [options.work === undefined ? [] : [options.work], options.workMap],
  ] as const) {
    const map = await loadMap(mapPath, terminal)
    if (map === undefined) return EXIT.refused
    for (const path of paths) parts.push({ path, map })
  }
  const allCsv = readings.every(isCsvName)
  const drafted = options.register === undefined && allCsv
  const register =
    options.register !== undefined
      ? await loadRegister(options.register, terminal)
      : allCsv
        ? await draftFrom(
            parts,
            { timeZone, ...(options.plant === undefined ? {} : { plant: options.plant }) },
            terminal,
          )
        : undefined
  if (register === undefined && (options.register !== undefined || drafted)) return EXIT.refused
  const plant = register === undefined ? undefined : resolvePlant(register)
  const files = parts.map(({ path, map }) => ({
    path,
    defaults:
      plant === undefined
        ? { map, timeZone, unitOf: () => undefined, unitOfPoint: () => undefined }
        : csvDefaults(plant, map),
  }))
  return { files, register, drafted, totalBytes: sizeOf(parts.map(({ path }) => path)) }
}

function sizeOf(paths: readonly string[]): number | undefined {
  let bytes = 0
  for (const path of paths) {
    const size = path === '-' ? undefined : statSync(path, { throwIfNoEntry: false })?.size
    if (size === undefined) return undefined
    bytes += size
  }
  return bytes
}
