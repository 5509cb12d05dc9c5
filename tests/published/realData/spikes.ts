import type { Analyzer } from '../../../src/model/plant.js'
import { closeBlock, newCondenseState } from '../../../src/qualify/closeBlock.js'
import { addReading, blockEnd, openBlock } from '../../../src/qualify/openBlock.js'
import type { SiteRecord } from './record.js'
import type { LabelRun } from './truth.js'

/** Readings of a site, by whether a person called them a spike and whether the service left them out. */
export interface SpikeCount {
  readonly site: string
  readonly labelled: number
  readonly leftOut: number
  /** Left out under another label, and under none. */
  readonly otherwiseLabelled: number
  readonly unlabelled: number
  readonly rows: number
}

/**
 * Takes a record through the service's own blocks. Where a block holds one reading, its count of readings left out
 * says which one that was; only for records of a reading each quarter-hour.
 */
export function countSpikes(record: SiteRecord, runs: readonly LabelRun[], analyzer: Analyzer): SpikeCount {
  const state = newCondenseState()
  const own = runs.filter(run => run.site === record.site)
  const spikes = new Set(own.filter(run => run.kind === 'spikes').flatMap(run => rowsOf(record, run)))
  const others = new Set(own.filter(run => run.kind !== 'spikes').flatMap(run => rowsOf(record, run)))
  const count = { labelled: spikes.size, leftOut: 0, otherwiseLabelled: 0, unlabelled: 0 }
  record.timesMs.forEach((atMs, row) => {
    const value = record.values[row] ?? null
    if (value === null) return
    const block = openBlock(blockEnd(atMs))
    addReading(block, { kind: 'reading', analyzer: record.site, atMs, value, unit: analyzer.unit }, analyzer)
    const { excluded } = closeBlock(block, analyzer, state)
    if ((excluded.bubble ?? 0) + (excluded.beyond_range ?? 0) === 0) return
    if (spikes.has(row)) count.leftOut += 1
    else if (others.has(row)) count.otherwiseLabelled += 1
    else count.unlabelled += 1
  })
  return { site: record.site, ...count, rows: record.timesMs.length }
}

function rowsOf({ timesMs }: SiteRecord, { fromMs, toMs }: LabelRun): number[] {
  return timesMs.flatMap((atMs, row) => (atMs >= fromMs && atMs <= toMs ? [row] : []))
}
