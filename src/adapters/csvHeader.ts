import { type Fault, showValue } from '../model/faults.js'
import { SCHEMA_BY_KIND } from '../model/messages.js'
import { UNITS, type Unit } from '../model/units.js'
import { fieldIn, FIELDS, messageKindOf, NEEDED, plain, REFERENCE_FIELDS } from './csvFields.js'
import type { CsvKind, CsvMap } from './csvMap.js'
import { parseCsvRow } from './csvRow.js'

/** What each column of a file is. */
export type CsvLayout =
  | {
      readonly form: 'long'
      readonly delimiter: string
      /** Cells every row has to have. */
      readonly width: number
      readonly kind: CsvKind
      readonly fields: readonly FieldColumn[]
    }
  | {
      readonly form: 'wide'
      readonly delimiter: string
      readonly width: number
      readonly time: number
      readonly series: readonly SeriesColumn[]
    }

export interface FieldColumn {
  readonly index: number
  readonly header: string
  /** Message field, such as `value` or `reference.type`. */
  readonly field: string
}

/** One analyzer of a wide file. */
export interface SeriesColumn {
  readonly index: number
  readonly header: string
  readonly analyzer: string
  /** Unit written in the header, as in `FE3-A (mNTU)`. */
  readonly unit: Unit | undefined
  /** Column with the quality of these values, such as `FE3-A quality`. */
  readonly quality: number | undefined
}

export type ReadHeader =
  | {
      readonly ok: true
      readonly layout: CsvLayout
      /** Headers of columns nobody reads. */ readonly ignored: readonly string[]
    }
  | { readonly ok: false; readonly faults: readonly Fault[] }

/**
 * Finds out from the header line what stands in each column; the map overrules names. A file is long where it has a
 * column for the analyzer or the point, else wide: one column of time, one for each analyzer.
 * @param isAnalyzer tells analyzers from other columns of a wide file where the map does not; left out, all are taken
 */
export function readHeader(line: string, map: CsvMap, isAnalyzer?: (id: string) => boolean): ReadHeader {
  const delimiter = map.delimiter ?? bestDelimiter(line)
  const row = parseCsvRow(line.startsWith('\ufeff') ? line.slice(1) : line, delimiter)
  if (!row.ok) return refuse([fault('header', line, row.rule)])
  const headers = row.cells
  const twice = headers.filter((header, index) => header !== '' && headers.indexOf(header) !== index)
  if (twice.length > 0) return refuse(twice.map(header => fault('header', header, 'must not name a column twice')))
  const absent = [...Object.values(map.columns ?? {}), ...Object.keys(map.analyzers ?? {})].filter(
    header => !headers.includes(header),
  )
  if (absent.length > 0) {
    const rule = `must be a column of the file: ${headers.join(', ').slice(0, 300)}`
    return refuse(absent.map(header => fault('map', header, rule)))
  }
  const fields = fieldColumns(headers, map)
  const has = (field: string): boolean => fields.some(column => column.field === field) || constant(map, field)
  const kind = map.kind ?? inferKind(has)
  if (kind === undefined) return wideLayout(headers, delimiter, map, isAnalyzer)
  const missing = NEEDED[kind].filter(field => !has(field) && !(field === 'sampled' && has('time')))
  if (missing.length > 0) {
    return refuse(
      missing.map(field => fault(`${kind}.${field}`, undefined, `needs a column; name it in the map's columns`)),
    )
  }
  const messageKind = messageKindOf(kind)
  const known = [...Object.keys(SCHEMA_BY_KIND[messageKind].shape), ...(messageKind === 'work' ? REFERENCE_FIELDS : [])]
  const named = fields
    .map(column => ({ ...column, field: fieldIn(kind, column.field) }))
    .filter(column => known.includes(column.field))
  const read = new Set(named.map(column => column.index))
  const ignored = headers.filter((header, index) => header !== '' && !read.has(index))
  return { ok: true, layout: { form: 'long', delimiter, width: headers.length, kind, fields: named }, ignored }
}

function fieldColumns(headers: readonly string[], map: CsvMap): FieldColumn[] {
  const mapped = new Map(Object.entries(map.columns ?? {}).map(([field, header]) => [header, field]))
  const taken = new Set(mapped.values())
  const columns: FieldColumn[] = []
  for (const [index, header] of headers.entries()) {
    const field = mapped.get(header) ?? FIELDS.get(plain(withoutUnit(header).name))
    if (field === undefined || (!mapped.has(header) && taken.has(field))) continue
    taken.add(field)
    columns.push({ index, header, field })
  }
  return columns
}

function inferKind(has: (field: string) => boolean): CsvKind | undefined {
  if (has('action')) return 'work'
  if (has('reference.id') && has('reference.assigned') && !has('value')) return 'standard'
  if (has('point') && has('value')) return 'grab'
  if (has('point') && has('state')) return 'process'
  return has('analyzer') && has('value') ? 'reading' : undefined
}

function wideLayout(
  headers: readonly string[],
  delimiter: string,
  map: CsvMap,
  isAnalyzer: (id: string) => boolean = () => true,
): ReadHeader {
  const stated = map.columns?.time
  const isTime = (header: string): boolean => FIELDS.get(plain(header)) === 'time'
  const time = stated === undefined ? headers.findIndex(isTime) : headers.indexOf(stated)
  if (time === -1) return refuse([fault('time', undefined, "needs a column; name it in the map's columns")])
  const qualityOf = new Map<string, number>()
  const ignored: string[] = []
  const series: { index: number; header: string; analyzer: string; unit: Unit | undefined }[] = []
  for (const [index, header] of headers.entries()) {
    if (index === time || header === '') continue
    const quality = /^(.+?)[ _.]+(?:quality|status)$/i.exec(header)
    if (quality !== null) {
      qualityOf.set(quality[1]!, index)
      continue
    }
    const { name, unit } = withoutUnit(header)
    const analyzer = map.analyzers === undefined ? toName(name) : map.analyzers[header]
    if (analyzer === undefined || (map.analyzers === undefined && !isAnalyzer(analyzer))) ignored.push(header)
    else series.push({ index, header, analyzer, unit })
  }
  if (series.length === 0) return refuse([fault('header', headers.join(delimiter), 'must name at least one analyzer')])
  return {
    ok: true,
    layout: {
      form: 'wide',
      delimiter,
      width: headers.length,
      time,
      series: series.map(column => ({
        ...column,
        quality: qualityOf.get(column.header) ?? qualityOf.get(withoutUnit(column.header).name),
      })),
    },
    ignored,
  }
}

/** A header as a name: characters a name may not have become underscores. */
export function toName(header: string): string {
  const name = header.replace(/[^A-Za-z0-9._-]+/g, '_').replace(/^_+|_+$/g, '')
  return (/^[A-Za-z]/.test(name) ? name : `X${name}`).slice(0, 64)
}

/** `FE3-A (mNTU)` or `FE3-A [FNU]`. */
function withoutUnit(header: string): { name: string; unit: Unit | undefined } {
  const match = /^(.*?)\s*[([]\s*([A-Za-z]+)\s*[)\]]$/.exec(header)
  const unit = UNITS.find(known => known.toLowerCase() === match?.[2]?.toLowerCase())
  return match === null || unit === undefined ? { name: header, unit: undefined } : { name: match[1]!, unit }
}

function bestDelimiter(line: string): string {
  const counts = [';', '\t', ','].map(delimiter => {
    const row = parseCsvRow(line, delimiter)
    return { delimiter, columns: row.ok ? row.cells.length : 0 }
  })
  return counts.reduce((best, other) => (other.columns > best.columns ? other : best)).delimiter
}

function constant(map: CsvMap, field: string): boolean {
  return map.constants !== undefined && Object.hasOwn(map.constants, field)
}

function refuse(faults: readonly Fault[]): ReadHeader {
  return { ok: false, faults }
}

function fault(field: string, value: unknown, rule: string): Fault {
  return { code: value === undefined ? 'missing_field' : 'invalid_field', field, value: showValue(value), rule }
}
