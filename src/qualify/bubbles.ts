import { HOUR_MS, MINUTE_MS } from '../model/time.js'
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
 * @param windowNtu readings in order of time, any number  @param timesMs when each was taken
 * @param resolutionNtu spread assumed where over half the readings are equal
 * @returns shares of 0 where readings are too far apart to tell bubbles from water that moves
 */
export function judgeBubbles(
  windowNtu: readonly number[],
  timesMs: readonly number[],
  resolutionNtu: number,
): BubbleJudgement {
  if (windowNtu.length < MIN_READINGS) return { raised: [], raisedShare: 0, loweredShare: 0 }
  const { high: far, low } = hampelOutliers(windowNtu, BUBBLE_THRESHOLD, resolutionNtu)
  const high = briefOnes(far, timesMs)
  const spanMs = (timesMs.at(-1) ?? 0) - (timesMs[0] ?? 0)
  const shareOf = (positions: readonly number[]): number =>
    spanMs > LONGEST_SPAN_MS ? 0 : positions.length / windowNtu.length
  return { raised: high, raisedShare: shareOf(high), loweredShare: shareOf(low) }
}

const MIN_READINGS = 7
/** A bubble is gone after a few readings and minutes; a longer run of high ones is the water (common practice, no source). */
const LONGEST_RUN = 3
const LONGEST_RUN_MS = 10 * MINUTE_MS
/** Hourly readings of a river look like bubbles: single high ones among many (seen in open river data). */
const LONGEST_SPAN_MS = 4 * HOUR_MS

function briefOnes(positions: readonly number[], timesMs: readonly number[]): number[] {
  const runs: number[][] = []
  for (const position of positions) {
    const run = runs.at(-1)
    if (run !== undefined && position === (run.at(-1) ?? 0) + 1) run.push(position)
    else runs.push([position])
  }
  const lastsMs = (run: readonly number[]): number => (timesMs[run.at(-1) ?? 0] ?? 0) - (timesMs[run[0] ?? 0] ?? 0)
  return runs.filter(run => run.length <= LONGEST_RUN && lastsMs(run) <= LONGEST_RUN_MS).flat()
}
