import { type Fault, showValue } from '../model/faults.js'
import { type CsvLayout, readHeader } from './csvHeader.js'
import { createLongRow } from './csvLong.js'
import { createOrder } from './csvOrder.js'
import { parseCsvRow } from './csvRow.js'
import { type CsvSink, type CsvSource, positionOf, type RowContext } from './csvSource.js'
import { createWideRow } from './csvWide.js'
import { type FileProblem, readBytes } from './inputFiles.js'
import { createLineSplitter } from './lineSplitter.js'
import { rejected, tooLarge } from './payload.js'

/**
 * Reads a CSV file, long or wide, row by row. Each cell or row that cannot be read is handed over as `rejected` with
 * field, value and rule; the rows around it are not touched.
 * @returns why the file as a whole could not be read, if so
 */
export async function readCsv(source: CsvSource, sink: CsvSink): Promise<FileProblem | undefined> {
  const { file, feed } = source
  let reader: RowReader | undefined
  let problem: FileProblem | undefined
  const reject = (faults: readonly Fault[], text: string, number: number): void =>
    sink.input({ feed, position: positionOf(source, number), message: rejected(faults, text) }, undefined)

  function start(header: string): RowReader | undefined {
    const read = readHeader(header, source.map, source.isAnalyzer)
    if (!read.ok) {
      problem = { file, problem: read.faults.map(fault => `${fault.field}: ${fault.value}: ${fault.rule}`).join('; ') }
      return undefined
    }
    if (read.ignored.length > 0) sink.ignored?.(read.ignored)
    return createRowReader(read.layout, { source, sink, reject })
  }

  const splitter = createLineSplitter({
    line: (text, number) => {
      if (problem !== undefined || text.trim() === '') return
      if (reader === undefined) {
        reader = start(text)
        return
      }
      reader.row(text, number)
      if (reader.backwards()) problem = { file, problem: 'runs newest first; sort it oldest first' }
    },
    tooLong: (sizeBytes, beginning, number) =>
      sink.input({ feed, position: positionOf(source, number), message: tooLarge(sizeBytes, beginning) }, undefined),
  })
  const unreadable = await readBytes(file, splitter.push, sink.pause)
  splitter.end()
  if (unreadable !== undefined || problem !== undefined) return unreadable ?? problem
  return reader === undefined ? { file, problem: 'has no header line' } : undefined
}

interface RowReader {
  readonly row: (text: string, number: number) => void
  readonly backwards: () => boolean
}

function createRowReader(layout: CsvLayout, base: Pick<RowContext, 'source' | 'sink' | 'reject'>): RowReader {
  const { map, timeZone } = base.source
  const order = createOrder()
  const context: RowContext = {
    ...base,
    order,
    times: { written: map.time ?? 'text', timeZone: map.timeZone ?? timeZone, dateOrder: map.dateOrder },
    format: { delimiter: layout.delimiter, decimal: map.decimal, qualities: map.qualities ?? {} },
  }
  const readRow = layout.form === 'wide' ? createWideRow(layout, context) : createLongRow(layout, context)
  return {
    backwards: order.backwards,
    row: (text, number) => {
      const parsed = parseCsvRow(text, layout.delimiter)
      const rule = parsed.ok ? widthRule(parsed.cells, layout.width) : parsed.rule
      if (parsed.ok && rule === undefined) readRow(parsed.cells, text, number)
      else base.reject([{ code: 'unreadable_row', field: '', value: showValue(text), rule: rule! }], text, number)
    },
  }
}

/** A row cut short may end in half a number, one too long may have a decimal comma for a delimiter. */
function widthRule(cells: readonly string[], width: number): string | undefined {
  if (cells.length === width || (cells.length > width && cells.slice(width).every(cell => cell === '')))
    return undefined
  return `must have ${String(width)} cells as the header has, not ${String(cells.length)}`
}
