import { hampelOutliers } from '../statistics/hampel.js'

/** Hampel threshold in MAD-sigmas above the median (e-Handbook 1.3.5.17 uses 3.5 for its modified z). */
export const BUBBLE_THRESHOLD = 3.5
/** Above this share the median itself may be raised and the level cannot be recovered. */
export const UNRECOVERABLE_SHARE = 0.4

export interface BubbleJudgement {
  /** Readings raised above the rest, by index into the window. */
  readonly raised: readonly number[]
  readonly raisedShare: number
  readonly loweredShare: number
}

/**
 * Bubbles raise a reading briefly. Judged over a window of 13 readings or an hour, whichever is longer, because a
 * block may hold only three.
 * @param windowNtu readings in order of time, any number
 * @param resolutionNtu spread assumed where over half the readings are equal
 */
export function judgeBubbles(windowNtu: readonly number[], resolutionNtu: number): BubbleJudgement {
  if (windowNtu.length < MIN_READINGS) return { raised: [], raisedShare: 0, loweredShare: 0 }
  const { high: far, low } = hampelOutliers(windowNtu, BUBBLE_THRESHOLD, resolutionNtu)
  const high = briefOnes(far)
  return { raised: high, raisedShare: high.length / windowNtu.length, loweredShare: low.length / windowNtu.length }
}

const MIN_READINGS = 7
/** A bubble is gone after a few readings; a longer run of high ones is the water. */
const LONGEST_RUN = 3

function briefOnes(positions: readonly number[]): number[] {
  const runs: number[][] = []
  for (const position of positions) {
    const run = runs.at(-1)
    if (run !== undefined && position === (run.at(-1) ?? 0) + 1) run.push(position)
    else runs.push([position])
  }
  return runs.filter(run => run.length <= LONGEST_RUN).flat()
}
