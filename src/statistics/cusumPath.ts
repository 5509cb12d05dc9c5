import { advanceTabularCusum } from './cusum.js'

export interface CusumPath {
  /** C after each value, going on after the signal without a reset. */
  readonly sums: readonly number[]
  /** First position with C strictly above h; null if none. */
  readonly signalIndex: number | null
  /** Last position up to the signal where C is zero, −1 if there is none; null without a signal. */
  readonly lastZeroIndex: number | null
  /** First value after the last zero: the chart's own estimate of where the shift began. */
  readonly onsetIndex: number | null
  /** k + C/N over the N values since the last zero; null without a signal or where a head start was never used up. */
  readonly meanEstimate: number | null
}

/**
 * Upper tabular CUSUM of a whole series with onset and mean as read off the chart (Montgomery, Introduction to
 * Statistical Quality Control, section 9.1). For the lower side hand in the negated series.
 * @param z standardised values  @param headStart C before the first value
 */
export function cusumPath(
  z: readonly number[],
  { k, h, headStart = 0 }: { readonly k: number; readonly h: number; readonly headStart?: number },
): CusumPath {
  const sums: number[] = []
  let sum = headStart
  for (const value of z) {
    sum = advanceTabularCusum(sum, value, k)
    sums.push(sum)
  }
  const signalIndex = sums.findIndex(s => s > h)
  if (signalIndex === -1) return { sums, signalIndex: null, lastZeroIndex: null, onsetIndex: null, meanEstimate: null }
  const lastZeroIndex = sums.lastIndexOf(0, signalIndex)
  const startedAtZero = lastZeroIndex >= 0 || headStart === 0
  const meanEstimate = startedAtZero ? k + sums[signalIndex]! / (signalIndex - lastZeroIndex) : null
  return { sums, signalIndex, lastZeroIndex, onsetIndex: lastZeroIndex + 1, meanEstimate }
}
