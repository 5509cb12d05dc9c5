import { ANALYZER_SLOT, type SparkplugField, type SparkplugMetric } from '../../model/sparkplugFeed.js'
import type { Unit } from '../../model/units.js'

/** What a metric is here. */
export interface Target {
  readonly analyzer: string
  /** Undefined where the register does not know the analyzer that `{analyzer}` stands for. */
  readonly unit: Unit | undefined
  readonly field: SparkplugField
  readonly words: Readonly<Record<string, string>> | undefined
}

export interface MetricTable {
  /** False where no metric of the device (undefined: of the edge node itself) can be of interest. */
  readonly wants: (device: string | undefined) => boolean
  /** True where one of them can belong to an analyzer of the register, as far as the device tells. */
  readonly knows: (device: string | undefined) => boolean
  /** What a metric is; undefined for one nobody asked for. */
  readonly find: (device: string | undefined, metric: string) => Target | undefined
}

interface Row {
  readonly index: number
  readonly row: SparkplugMetric
}

/** The table of a feed: the first row that fits says what a metric is. @param units by analyzer of the register */
export function metricTable(rows: readonly SparkplugMetric[], units: ReadonlyMap<string, Unit>): MetricTable {
  const plain = new Map<string, Row>()
  const slotted: Row[] = []
  for (const [index, row] of rows.entries()) {
    if (row.analyzer === undefined) slotted.push({ index, row })
    else plain.set(keyOf(row.device, row.metric), { index, row })
  }
  const plainDevices = new Set([...plain.values()].map(({ row }) => row.device))
  return {
    wants: device => plainDevices.has(device) || slotted.some(({ row }) => fits(row.device, device) !== undefined),
    knows: device =>
      plainDevices.has(device) ||
      slotted.some(({ row }) => {
        const analyzer = fits(row.device, device)
        return analyzer === '' || (analyzer !== undefined && units.has(analyzer))
      }),
    find: (device, metric) => {
      const exact = plain.get(keyOf(device, metric))
      for (const { index, row } of slotted) {
        if (exact !== undefined && exact.index < index) break
        const analyzer = analyzerIn(row, device, metric)
        if (analyzer !== undefined) return { analyzer, unit: units.get(analyzer), field: row.field, words: row.words }
      }
      if (exact === undefined) return undefined
      const { analyzer, field, words } = exact.row
      return { analyzer: analyzer!, unit: units.get(analyzer!), field, words }
    },
  }
}

function keyOf(device: string | undefined, metric: string): string {
  // No device name holds a slash.
  return `${device ?? ''}/${metric}`
}

function analyzerIn(row: SparkplugMetric, device: string | undefined, metric: string): string | undefined {
  const fromDevice = fits(row.device, device)
  if (fromDevice === undefined) return undefined
  const fromMetric = fits(row.metric, metric)
  return fromMetric === undefined ? undefined : fromDevice + fromMetric
}

/** The name that stands in place of the slot; empty where there is no slot and the texts are equal. */
function fits(pattern: string | undefined, came: string | undefined): string | undefined {
  if (pattern === undefined || came === undefined) return pattern === came ? '' : undefined
  const at = pattern.indexOf(ANALYZER_SLOT)
  if (at < 0) return pattern === came ? '' : undefined
  const after = pattern.slice(at + ANALYZER_SLOT.length)
  if (came.length <= at + after.length) return undefined
  if (!came.startsWith(pattern.slice(0, at)) || !came.endsWith(after)) return undefined
  return came.slice(at, came.length - after.length)
}
