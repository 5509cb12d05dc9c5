import { advanceCusum } from '../../src/statistics/cusum.js'

export interface SimulatedChart {
  readonly k: number
  readonly h: number
  readonly cap?: number
  readonly headStart?: number
}

/** Values until the upper or, with two sides, either CUSUM is strictly above h. @param next the next value of the series */
export function cusumRun(
  { k, h, cap = Infinity, headStart = 0 }: SimulatedChart,
  sides: 1 | 2,
  next: () => number,
): number {
  let high = headStart
  let low = sides === 2 ? headStart : 0
  for (let n = 1; ; n++) {
    const x = next()
    high = advanceCusum(high, x - k, cap)
    if (sides === 2) low = advanceCusum(low, -x - k, cap)
    if (high > h || low > h) return n
  }
}

/** Mean of many runs with its standard error, and the runs in ascending order. */
export function simulate(
  repeats: number,
  run: () => number,
): { readonly mean: number; readonly standardError: number; readonly sorted: readonly number[] } {
  const runs = Array.from({ length: repeats }, run)
  const mean = runs.reduce((sum, n) => sum + n, 0) / repeats
  const variance = runs.reduce((sum, n) => sum + (n - mean) * (n - mean), 0) / (repeats - 1)
  return { mean, standardError: Math.sqrt(variance / repeats), sorted: runs.sort((a, b) => a - b) }
}
