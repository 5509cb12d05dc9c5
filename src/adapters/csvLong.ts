import type { Fault } from '../model/faults.js'
import { type Cell, readBoolean, readMeasured, readNumber, readResult } from './csvCells.js'
import { messageKindOf, plain } from './csvFields.js'
import type { CsvLayout, FieldColumn } from './csvHeader.js'
import type { CsvKind } from './csvMap.js'
import { invalidCell, positionOf, type ReadRow, type RowContext } from './csvSource.js'
import { readTime } from './wallClock.js'

type LongLayout = Extract<CsvLayout, { form: 'long' }>

/** Reads rows that are one message each: readings, grab samples, work or process states. Empty cells are absent fields. */
export function createLongRow(layout: LongLayout, context: RowContext): ReadRow {
  const { source, sink, order, reject } = context
  const kind = messageKindOf(layout.kind)
  const subject = layout.fields.find(
    ({ field }) => field === (kind === 'reading' || kind === 'work' ? 'analyzer' : 'point'),
  )
  return (cells, text, number) => {
    const about = subject === undefined ? '' : cells[subject.index]!
    const row: Row = { message: begin(layout.kind), faults: [], atMs: undefined, empty: false }
    for (const column of layout.fields) readColumn(column, about, cells, kind, layout, context, row)
    if (row.atMs !== undefined && kind === 'reading') order.came(about, row.atMs)
    if (row.faults.length > 0) reject(row.faults, text, number)
    else if (row.empty) sink.missing(about)
    else {
      const message = { ...unitOf(about, kind, context), ...row.message, ...source.map.constants }
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
  { field, header, index }: FieldColumn,
  about: string,
  cells: readonly string[],
  kind: string,
  { fields }: LongLayout,
  { times, format, order }: RowContext,
  row: Row,
): void {
  const text = cells[index]!
  const name = nameOf(kind, field, header)
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
    const cell = readOther(kind, field, name, text, format)
    if (cell.ok) setField(row.message, field, cell.value)
    else row.faults.push(cell.fault)
  }
}

/** What is fixed in a row of a kind; the fields come over it. */
function begin(kind: CsvKind): Record<string, unknown> {
  return kind === 'standard'
    ? { kind: 'work', action: 'standard_assigned', accepted: true, reference: { type: 'secondary_standard' } }
    : { kind }
}

/** The message's field, and the column where its header says something else. */
function nameOf(kind: string, field: string, header: string): string {
  const isSame = [plain(field), plain(`${kind}.${field}`)].includes(plain(header))
  return `${kind}.${field}${isSame ? '' : ` (column ${header})`}`
}

function isoOf(atMs: number): string {
  return new Date(atMs).toISOString()
}

function readOther(
  kind: string,
  field: string,
  name: string,
  text: string,
  format: RowContext['format'],
): Cell<unknown> {
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

function unitOf(about: string, kind: string, { source }: RowContext): { unit?: string } {
  if (kind === 'reading') return { unit: source.map.unit ?? source.unitOf(about) ?? 'NTU' }
  return kind === 'grab' ? { unit: source.map.unit ?? source.unitOfPoint(about) ?? 'NTU' } : {}
}

/** When a fact can have been known: a laboratory result not before it was reported. */
function knownAt(message: Readonly<Record<string, unknown>>, atMs: number | undefined): number | undefined {
  const reportedMs = typeof message.reported === 'string' ? Date.parse(message.reported) : Number.NaN
  return atMs !== undefined && reportedMs > atMs ? reportedMs : atMs
}
