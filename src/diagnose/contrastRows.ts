import { UNIT_INNOVATION, WINDOW_MS } from '../compare/redundant.js'
import type { EvidenceInput } from './evidence.js'
import { loadingOf, type OffsetPlan } from './offsets.js'
import { type EvidenceRows, newRows, type Rows } from './rows.js'

/** Orthonormal contrasts between the units usable in a window, whitened as AR(1). */
export function contrastSeries(input: EvidenceInput, plan: OffsetPlan): EvidenceRows[] {
  const series = new Map<string, { rows: Rows; loading: number[]; lastY: number }>()
  for (const difference of input.differences) {
    if (difference.atMs < input.fromMs) continue
    const usable = difference.deviationsNtu.flatMap((value, i) =>
      value !== null && difference.atMs - WINDOW_MS > (input.sinceMs[i] ?? 0) ? [{ value, i }] : [],
    )
    for (let k = 1; k < usable.length; k++) {
      const weights = contrastWeights(
        usable.map(({ i }) => i),
        k,
        input.units,
      )
      const key = `${usable.map(({ i }) => i).join(',')}|${String(k)}`
      let held = series.get(key)
      if (held === undefined) {
        held = { rows: newRows(), loading: loadingOf(plan, { weights }), lastY: 0 }
        series.set(key, held)
      }
      let y = 0
      for (const { value, i } of usable) y += ((weights[i] ?? 0) * value) / difference.toleranceNtu
      const { rows } = held
      const follows = difference.atMs - (rows.timesMs.at(-1) ?? 0) === WINDOW_MS
      const phi = follows ? input.phi : 0
      const innovation = UNIT_INNOVATION * input.unitSigma
      rows.timesMs.push(difference.atMs)
      rows.y.push(y - phi * held.lastY)
      rows.variance.push(follows ? innovation * innovation : (innovation * innovation) / (1 - input.phi * input.phi))
      rows.g.push(1 - phi)
      rows.levelsNtu.push(difference.levelNtu)
      rows.tolerancesNtu.push(difference.toleranceNtu)
      rows.weights.push(weights)
      rows.phi.push(phi)
      held.lastY = y
    }
  }
  return [...series.values()].map(({ rows, loading }) => ({ ...rows, loading, line: 'contrast' as const }))
}

/** k-th Helmert contrast: mean of the first k usable units against the next one, length 1. */
function contrastWeights(usable: readonly number[], k: number, units: number): number[] {
  const weights = new Array<number>(units).fill(0)
  const scale = Math.sqrt(k * (k + 1))
  for (let j = 0; j < k; j++) weights[usable[j] ?? 0] = 1 / scale
  weights[usable[k] ?? 0] = -k / scale
  return weights
}
