import { type Fault, showValue } from '../model/faults.js'
import type { RecordedInput } from '../model/recordedInput.js'
import type { Unit } from '../model/units.js'
import type { CellFormat } from './csvCells.js'
import type { CsvMap } from './csvMap.js'
import type { Order } from './csvOrder.js'
import type { Pause } from './inputFiles.js'
import type { TimeFormat } from './wallClock.js'

export interface CsvSource {
  readonly file: string
  readonly feed: string
  readonly map: CsvMap
  /** Zone of times without an offset, where the map names none. */
  readonly timeZone: string
  /** Unit of an analyzer's values where the file gives none. */
  readonly unitOf: (analyzer: string) => Unit | undefined
  /** Unit of a point's grab samples where the file gives none. */
  readonly unitOfPoint: (point: string) => Unit | undefined
  /** Tells analyzers from other columns of a wide file; left out, every column is one. */
  readonly isAnalyzer?: (id: string) => boolean
}

export interface CsvSink {
  /** @param atMs instant of the row; undefined for rejected rows */
  readonly input: (input: RecordedInput, atMs: number | undefined) => void
  /** An empty cell where a value could stand. */
  readonly missing: (analyzer: string) => void
  /** Columns nobody reads, told once. */
  readonly ignored?: (headers: readonly string[]) => void
  readonly pause?: Pause
}

/** What the readers of rows share. */
export interface RowContext {
  readonly source: CsvSource
  readonly sink: CsvSink
  readonly times: TimeFormat
  readonly format: CellFormat
  readonly order: Order
  readonly reject: (faults: readonly Fault[], text: string, number: number) => void
}

export type ReadRow = (cells: readonly string[], text: string, number: number) => void

export function positionOf(source: CsvSource, number: number): string {
  return `${source.file}:${String(number)}`
}

export function invalidCell(field: string, text: string | undefined, rule: string): Fault {
  return { code: 'invalid_field', field, value: showValue(text), rule }
}
