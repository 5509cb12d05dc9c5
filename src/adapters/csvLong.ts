import type { Fault } from '../model/faults.js'
import { type Cell, readBoolean, readMeasured, readNumber, readResult } from './csvCells.js'
import type { CsvLayout } from './csvHeader.js'
import { invalidCell, positionOf, type ReadRow, type RowContext } from './csvSource.js'
import { readTime } from './wallClock.js'

type LongLayout = Extract<CsvLayout, { form: 'long' }>

/** Reads rows that are one message each: readings, grab samples, work or process states. Empty cells are absent fields. */
export function createLongRow(layout: LongLayout, context: RowContext): ReadRow {
  const { source, sink, order, reject } = context
  const { kind } = layout
  const subject = layout.fields.find(
    ({ field }) => field === (kind === 'reading' || kind === 'work' ? 'analyzer' : 'point'),
  )
  return (cells, text, number) => {
    const about = subject === undefined ? '' : cells[subject.index]!
    const row: Row = { message: { kind }, faults: [], atMs: undefined, empty: false }
    for (const column of layout.fields)
      readColumn(column.field, cells[column.index]!, about, cells, layout, context, row)
    if (row.atMs !== undefined && kind === 'reading') order.came(about, row.atMs)
    if (row.faults.length > 0) reject(row.faults, text, number)
    else if (row.empty) sink.missing(about)
    else {
      const message = { ...unitOf(about, layout, context), ...row.message, ...source.map.constants }
      sink.input({ feed: source.feed, position: positionOf(source, number), message }, knownAt(message, row.atMs))
    }
  }
}

interface Row {
  readonly message: Record<string, unknown>
  readonly faults: Fault[]
  atMs: number | undefined
  empty: boolean
}

const TIMES: ReadonlySet<string> = new Set(['time', 'sampled', 'sampledAlso', 'analysed', 'reported'])
const NUMBERS: ReadonlySet<string> = new Set([
  ...['flowLMin', 'lightSourcePct', 'temperatureC', 'seq'],
  ...['value', 'replicates', 'standardUncertainty'],
  ...['asFound', 'asFoundClean', 'asLeft', 'besideBefore', 'besideAfter', 'displayed', 'flowM3h'],
  ...['reference.assigned', 'reference.standardUncertainty'],
])

function readColumn(
  field: string,
  text: string,
  about: string,
  cells: readonly string[],
  { kind, fields }: LongLayout,
  { times, format, order }: RowContext,
  row: Row,
): void {
  const name = `${kind}.${field}`
  if (kind === 'reading' && field === 'quality') return
  if (kind === 'reading' && field === 'value') {
    const quality = fields.find(column => column.field === 'quality')
    const measured = readMeasured(name, text, quality && cells[quality.index], format)
    if (!measured.ok) row.faults.push(measured.fault)
    else if (measured.value === undefined) row.empty = true
    else Object.assign(row.message, measured.value)
  } else if (text === '') return
  else if (TIMES.has(field)) {
    const time = readTime(text, times, kind === 'reading' ? order.around(about) : kind === 'grab' ? 'both' : undefined)
    if (!time.ok) row.faults.push(invalidCell(name, text, time.rule))
    else if (field === (kind === 'grab' ? 'sampled' : 'time')) {
      row.atMs = time.atMs
      row.message[field] = isoOf(time.atMs)
      if (time.alsoMs !== undefined) row.message.sampledAlso = isoOf(time.alsoMs)
    } else row.message[field] = isoOf(time.alsoMs ?? time.atMs)
  } else {
    const cell = readOther(kind, field, text, format)
    if (cell.ok) setField(row.message, field, cell.value)
    else row.faults.push(cell.fault)
  }
}

function isoOf(atMs: number): string {
  return new Date(atMs).toISOString()
}

function readOther(kind: string, field: string, text: string, format: RowContext['format']): Cell<unknown> {
  const name = `${kind}.${field}`
  if (kind === 'grab' && field === 'value') return readResult(name, text, format)
  if (NUMBERS.has(field)) return readNumber(name, text, format)
  return field === 'accepted' ? readBoolean(name, text) : { ok: true, value: text }
}

function setField(message: Record<string, unknown>, field: string, value: unknown): void {
  if (!field.startsWith('reference.')) {
    message[field] = value
    return
  }
  const reference = (message.reference ??= {}) as Record<string, unknown>
  reference[field.slice('reference.'.length)] = value
}

function unitOf(about: string, { kind }: LongLayout, { source }: RowContext): { unit?: string } {
  if (kind === 'reading') return { unit: source.map.unit ?? source.unitOf(about) ?? 'NTU' }
  return kind === 'grab' ? { unit: source.map.unit ?? source.unitOfPoint(about) ?? 'NTU' } : {}
}

/** When a fact can have been known: a laboratory result not before it was reported. */
function knownAt(message: Readonly<Record<string, unknown>>, atMs: number | undefined): number | undefined {
  const reportedMs = typeof message.reported === 'string' ? Date.parse(message.reported) : Number.NaN
  return atMs !== undefined && reportedMs > atMs ? reportedMs : atMs
}
