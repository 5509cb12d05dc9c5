import { MINUTE_MS } from '../../model/time.js'
import { kept } from '../../model/rounding.js'
import { BLOCK_MS } from '../../qualify/openBlock.js'
import type { SignOf } from './sign.js'

/** Sums of the difference to the other units against the rate of change of the water, fading over some days. Plain data. */
export interface LagState {
  /** Last two levels of the other units, NTU. */
  recentNtu: number[]
  /** Rate squared, rate × difference, difference squared, weight. */
  xx: number
  xy: number
  yy: number
  n: number
}

export function newLagState(): LagState {
  return { recentNtu: [], xx: 0, xy: 0, yy: 0, n: 0 }
}

/** Share of the sums that fades with each block: a memory of about four days. */
const FADE = 1 / 400
const LEAST_BLOCKS = 192
/** Share of the difference that the rate must explain, and the least it comes to, tolerances. */
const LEAST_SHARE = 0.5
const LEAST_SIZE = 0.15

/** Takes a block: what this unit and the others show; null breaks the row. */
export function takeLag(state: LagState, ownNtu: number | null, othersNtu: number | null): void {
  if (ownNtu === null || othersNtu === null) {
    state.recentNtu = []
    return
  }
  const [first, second] = state.recentNtu
  if (first !== undefined && second !== undefined) {
    // Change a block over the last two. A unit that is late stands below the others while they rise.
    const rate = (othersNtu - first) / 2
    const difference = ownNtu - othersNtu
    state.xx += rate * rate - FADE * state.xx
    state.xy += rate * difference - FADE * state.xy
    state.yy += difference * difference - FADE * state.yy
    state.n += 1 - FADE * state.n
  }
  state.recentNtu = [...state.recentNtu.slice(-1), othersNtu]
}

/** A unit whose difference goes with the rate of change, late (minus) or early: a delay or a damping, not a drift. */
export function lagSign({ xx, xy, yy, n }: LagState, toleranceNtu: number): SignOf<'lag'> | undefined {
  if (n < LEAST_BLOCKS || xx === 0 || yy === 0) return undefined
  const share = (xy * xy) / (xx * yy)
  const size = Math.sqrt((share * yy) / n)
  if (xy > 0 || share < LEAST_SHARE || size < LEAST_SIZE * toleranceNtu) return undefined
  return { kind: 'lag', minutes: kept((-xy / xx) * (BLOCK_MS / MINUTE_MS)), share: kept(share) }
}
