import { kept } from '../model/rounding.js'
import type { Analyzer, Point } from '../model/plant.js'
import { HOUR_MS } from '../model/time.js'
import { toleranceAt } from '../model/tolerance.js'
import { median } from '../statistics/robust.js'
import type { Difference } from './difference.js'
import { mean } from '../statistics/mean.js'

/** Length of one value of a redundant line. */
export const WINDOW_MS = 6 * HOUR_MS
/** Of the 24 blocks of a window so many must be comparable. */
const LEAST_BLOCKS = 12
/** Prior innovation standard deviation of one unit, tolerances. */
export const UNIT_INNOVATION = 0.08

/** One redundant line: a pair of units, or one unit against the others. */
export interface RedundantLine {
  readonly name: string
  readonly against: 'pair' | 'others'
  readonly unit: number
  readonly analyzers: readonly string[]
}

/** Lines of a point: none for one unit, one difference for two, each against the others for three or more. */
export function redundantLines(point: Point): readonly RedundantLine[] {
  const units = point.analyzers
  if (units.length < 2) return []
  if (units.length === 2)
    return [{ name: `${units[0] ?? ''} minus ${units[1] ?? ''}`, against: 'pair', unit: 0, analyzers: units }]
  return units.map((unit, i) => ({ name: `${unit} against the others`, against: 'others', unit: i, analyzers: [unit] }))
}

/** Standard deviation of an innovation of a line before anything is learnt, tolerances. */
export function priorInnovation(line: RedundantLine, units: number): number {
  return UNIT_INNOVATION * Math.sqrt(line.against === 'pair' ? 2 : 1 + 1 / (units - 1))
}

/** Medians of blocks of one instant waiting for their window to end: per block, a value per unit or null. */
export interface WindowBuffer {
  rowsNtu: (number | null)[][]
}

/**
 * Condenses the window that ends at `atMs`. Differences are taken block by block and the median over them, so that a
 * moving level does not count. Returns undefined where fewer than half the blocks hold two units.
 */
export function condenseWindow(
  buffer: WindowBuffer,
  atMs: number,
  analyzers: readonly Analyzer[],
  lines: readonly RedundantLine[],
): { difference: Difference; values: (number | null)[] } | undefined {
  const rows = buffer.rowsNtu.filter(row => row.filter(value => value !== null).length >= 2)
  if (rows.length < LEAST_BLOCKS) return undefined
  const levelNtu = median(rows.map(row => mean(row.filter(value => value !== null))))
  const reference = analyzers[0]
  if (reference === undefined) return undefined
  const toleranceNtu = toleranceAt(reference.tolerance, levelNtu)
  const deviationsNtu = analyzers.map((_, unit) => {
    const values = rows.flatMap(row =>
      row[unit] == null ? [] : [row[unit] - mean(row.filter(value => value !== null))],
    )
    return values.length >= LEAST_BLOCKS ? kept(median(values)) : null
  })
  const values = lines.map(line => lineValue(line, rows, toleranceNtu))
  return {
    difference: {
      atMs,
      levelNtu: kept(levelNtu),
      toleranceNtu: kept(toleranceNtu),
      deviationsNtu,
      lines: lines.map(() => null),
    },
    values,
  }
}

function lineValue(
  line: RedundantLine,
  rows: readonly (readonly (number | null)[])[],
  toleranceNtu: number,
): number | null {
  const values: number[] = []
  for (const row of rows) {
    const own = row[line.unit]
    const others = row.filter((value, unit): value is number => value !== null && unit !== line.unit)
    if (own == null || others.length === 0) continue
    // Against three or more the median of the others; one bad unit among them then says nothing.
    values.push(own - (others.length === 1 ? (others[0] ?? 0) : median(others)))
  }
  return values.length >= LEAST_BLOCKS ? kept(median(values) / toleranceNtu) : null
}
