import { assertPairs } from './finite.js'
import { median } from './robust.js'

export interface TheilSenLine {
  readonly slope: number
  readonly intercept: number
}

/**
 * Line that bears up to 29 % wild values: slope = median of the slopes of all pairs with different x, intercept =
 * median of y − slope · x (Sen 1968, J. Am. Stat. Assoc. 63:1379). Cost grows with n².
 * @param x finite  @param y finite, as many as x
 * @returns slope in unit of y per unit of x, intercept in unit of y
 * @throws RangeError if empty, not finite, of unequal length, or all x are equal
 */
export function theilSen(x: ArrayLike<number>, y: ArrayLike<number>): TheilSenLine {
  assertPairs(x, y)
  const slopes: number[] = []
  for (let i = 0; i < x.length; i++) {
    for (let j = i + 1; j < x.length; j++) {
      const run = x[j]! - x[i]!
      if (run !== 0) slopes.push((y[j]! - y[i]!) / run)
    }
  }
  if (slopes.length === 0) throw new RangeError('x must hold at least two different values')
  const slope = median(slopes)
  return { slope, intercept: median(Array.from(x, (value, i) => y[i]! - slope * value)) }
}
