import type { Plant } from '../model/plant.js'
import type { RecordedInput } from '../model/recordedInput.js'
import { readCsv } from './csv.js'
import type { CsvMap } from './csvMap.js'
import type { CsvSource } from './csvSource.js'
import type { FileProblem, Pause } from './inputFiles.js'
import { readNdjson } from './ndjson.js'

export interface InputSink {
  /** @param atMs instant of a CSV row; undefined for NDJSON and for refused rows */
  readonly input: (input: RecordedInput, file: string, line: number, atMs: number | undefined) => void
  readonly missing: (analyzer: string) => void
  readonly ignored?: (headers: readonly string[]) => void
  readonly pause?: Pause
}

/** What a CSV file does not say and the register does. */
export type CsvDefaults = Omit<CsvSource, 'file' | 'feed'>

/** Defaults from a register; columns that name no analyzer of it are left out. */
export function csvDefaults(plant: Plant, map: CsvMap): CsvDefaults {
  return {
    map,
    timeZone: plant.timeZone,
    unitOf: id => plant.analyzers.get(id)?.unit,
    unitOfPoint: id => plant.analyzers.get(plant.points.get(id)?.analyzers[0] ?? '')?.unit,
    isAnalyzer: id => plant.analyzers.has(id),
  }
}

export function isCsvName(file: string): boolean {
  return /\.(csv|tsv|txt)(\.gz)?$/i.test(file)
}

/** Reads one file of either kind: CSV by its name, anything else as NDJSON. */
export async function readInputs(
  file: string,
  feed: string,
  defaults: CsvDefaults,
  sink: InputSink,
): Promise<FileProblem | undefined> {
  const pause = sink.pause === undefined ? {} : { pause: sink.pause }
  if (!isCsvName(file)) {
    const name = file === '-' ? 'stdin' : file
    return readNdjson(file, feed, { input: (input, line) => sink.input(input, name, line, undefined), ...pause })
  }
  return readCsv(
    { file, feed, ...defaults },
    {
      input: (input, atMs) => sink.input(input, file, 0, atMs),
      missing: sink.missing,
      ...(sink.ignored === undefined ? {} : { ignored: sink.ignored }),
      ...pause,
    },
  )
}
