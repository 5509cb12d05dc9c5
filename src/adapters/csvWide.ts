import type { Fault } from '../model/faults.js'
import { readMeasured } from './csvCells.js'
import type { CsvLayout, SeriesColumn } from './csvHeader.js'
import { invalidCell, positionOf, type ReadRow, type RowContext } from './csvSource.js'
import { readTime } from './wallClock.js'

/** Reads rows with one time and the values of many analyzers. A bad cell costs its own reading only. */
export function createWideRow(layout: Extract<CsvLayout, { form: 'wide' }>, context: RowContext): ReadRow {
  const { times, order, reject } = context
  return (cells, text, number) => {
    const time = readTime(cells[layout.time]!, times, order.around(''))
    if (!time.ok) {
      reject([invalidCell('reading.time', cells[layout.time], time.rule)], text, number)
      return
    }
    order.came('', time.atMs)
    const iso = new Date(time.atMs).toISOString()
    for (const column of layout.series) {
      const fault = readCell(column, cells, number, { atMs: time.atMs, iso }, context)
      if (fault !== undefined) reject([fault], text, number)
    }
  }
}

function readCell(
  column: SeriesColumn,
  cells: readonly string[],
  number: number,
  time: { readonly atMs: number; readonly iso: string },
  { source, sink, format }: RowContext,
): Fault | undefined {
  const quality = column.quality === undefined ? undefined : cells[column.quality]
  const measured = readMeasured(`reading.value (${column.analyzer})`, cells[column.index]!, quality, format)
  if (!measured.ok) return measured.fault
  if (measured.value === undefined) {
    sink.missing(column.analyzer)
    return undefined
  }
  const message = {
    kind: 'reading',
    analyzer: column.analyzer,
    time: time.iso,
    ...measured.value,
    unit: column.unit ?? source.map.unit ?? source.unitOf(column.analyzer) ?? 'NTU',
    ...source.map.constants,
  }
  sink.input({ feed: source.feed, position: positionOf(source, number), message }, time.atMs)
  return undefined
}
