import { readFileSync } from 'node:fs'
import { gunzipSync } from 'node:zlib'
import { DAY_MS, HOUR_MS, MINUTE_MS } from '../../../src/model/time.js'
import { median } from '../../../src/statistics/robust.js'
import { DATA, type LabelRun } from './truth.js'

/** The times of the rows of one site, so that holes of the record count for nothing. */
export interface SiteRecord {
  readonly site: string
  readonly timesMs: readonly number[]
  readonly intervalMs: number
  /** Without holes of more than six hours. */
  readonly days: number
  /** NTU or FNU; null where the cell is empty. */
  readonly values: readonly (number | null)[]
}

export function siteRecord(set: string, site: string): SiteRecord {
  const rows = gunzipSync(readFileSync(`${DATA}${set}/${site}.readings.csv.gz`))
    .toString('utf8')
    .trimEnd()
    .split('\n')
  const cells = rows.slice(1).map(row => row.split(','))
  const timesMs = cells.map(([time = '']) => Date.parse(time))
  const values = cells.map(([, , , value = '']) => (value === '' ? null : Number(value)))
  const gapsMs = timesMs.slice(1).map((atMs, i) => atMs - timesMs[i]!)
  const recordedMs = gapsMs.reduce((sum, gapMs) => sum + (gapMs <= 6 * HOUR_MS ? gapMs : 0), 0)
  return { site, timesMs, intervalMs: median(gapsMs), days: recordedMs / DAY_MS, values }
}

function rowsOf(set: string, site: string): string[] {
  return gunzipSync(readFileSync(`${DATA}${set}/${site}.readings.csv.gz`))
    .toString('utf8')
    .trimEnd()
    .split('\n')
}

const YEARS_APART_MS = 180 * DAY_MS

/** The readings of a site as CSV, cut where nothing was recorded for half a year. */
export function stretchesOf(set: string, site: string): string[] {
  const [header = '', ...rows] = rowsOf(set, site)
  const stretches: string[][] = []
  let lastMs = Number.NEGATIVE_INFINITY
  for (const row of rows) {
    const atMs = Date.parse(row.slice(0, row.indexOf(',')))
    if (atMs - lastMs > YEARS_APART_MS) stretches.push([header])
    stretches.at(-1)!.push(row)
    lastMs = atMs
  }
  return stretches.map(lines => `${lines.join('\n')}\n`)
}

const HOLE_MS = 45 * MINUTE_MS

/**
 * Where no value came for three quarters of an hour and two and a half intervals: rows that are missing, and rows with an
 * empty cell; not between stretches.
 */
export function holesOf({ site, timesMs, intervalMs, values }: SiteRecord): LabelRun[] {
  const holes: LabelRun[] = []
  const leastMs = Math.max(HOLE_MS, 2.5 * intervalMs)
  let lastMs = timesMs[0]!
  for (const [i, atMs] of timesMs.entries()) {
    if (values[i] === null) continue
    if (atMs - lastMs > leastMs && atMs - lastMs <= YEARS_APART_MS)
      holes.push({ site, kind: 'hole', label: 'no value', fromMs: lastMs, toMs: atMs, readings: 0 })
    lastMs = atMs
  }
  return holes
}

/** From one row to another, counted in rows. */
export interface Stretch {
  readonly site: string
  readonly from: number
  readonly to: number
}

export function stretchOf(record: SiteRecord, fromMs: number, toMs: number): Stretch {
  return { site: record.site, from: rowAt(record.timesMs, fromMs), to: rowAt(record.timesMs, toMs) }
}

/** The same stretch days later, the end of the record joined to its begin. */
export function moved(stretch: Stretch, days: number, record: SiteRecord): Stretch {
  const rows = Math.round((days * DAY_MS) / record.intervalMs)
  const from = (stretch.from + rows) % record.timesMs.length
  return { site: stretch.site, from, to: from + stretch.to - stretch.from }
}

export function meets(a: Stretch, b: Stretch): boolean {
  return a.site === b.site && a.from <= b.to && a.to >= b.from
}

/** The last row at or before an instant. */
function rowAt(timesMs: readonly number[], atMs: number): number {
  let low = 0
  let high = timesMs.length - 1
  while (low < high) {
    const middle = Math.ceil((low + high) / 2)
    if (timesMs[middle]! <= atMs) low = middle
    else high = middle - 1
  }
  return low
}
