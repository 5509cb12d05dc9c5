import { mean } from 'simple-statistics'
import { assertPairs } from './finite.js'
import { type FittedLine, fittedLine } from './fittedLine.js'

/**
 * Ordinary least squares with all the error in y, by centred sums.
 * @param x finite, at least two different values  @param y finite, as many as x, three or more
 * @returns the line and residualSd with divisor n − 2, in unit of y
 * @throws RangeError naming what is wrong
 */
export function ordinaryLeastSquares(
  x: ArrayLike<number>,
  y: ArrayLike<number>,
): FittedLine & { readonly residualSd: number } {
  assertPairs(x, y)
  const n = x.length
  if (n < 3) throw new RangeError(`x must have at least three values, got ${n}`)
  const meanX = mean(Array.from(x))
  const meanY = mean(Array.from(y))
  let sxx = 0
  let sxy = 0
  for (let i = 0; i < n; i++) {
    sxx += (x[i]! - meanX) * (x[i]! - meanX)
    sxy += (x[i]! - meanX) * (y[i]! - meanY)
  }
  if (sxx === 0) throw new RangeError('x must hold at least two different values')
  const slope = sxy / sxx
  let residualSquares = 0
  for (let i = 0; i < n; i++) {
    const residual = y[i]! - meanY - slope * (x[i]! - meanX)
    residualSquares += residual * residual
  }
  const residualSd = Math.sqrt(residualSquares / (n - 2))
  return {
    ...fittedLine({
      intercept: meanY - slope * meanX,
      slope,
      centreX: meanX,
      centreSd: residualSd / Math.sqrt(n),
      slopeSd: residualSd / Math.sqrt(sxx),
      df: n - 2,
      n,
    }),
    residualSd,
  }
}
