import { normalQuantile } from '../../../src/statistics/distributions.js'

/** So many of so many, with the 95 % interval of the share; null where there is nothing to count. */
export interface Share {
  readonly right: number
  readonly n: number
  readonly share: number | null
  readonly ci95: readonly [number, number] | null
}

export function shareOf<One>(ones: readonly One[], isRight: (one: One) => boolean): Share {
  const right = ones.filter(isRight).length
  const n = ones.length
  return n === 0 ? { right, n, share: null, ci95: null } : { right, n, share: right / n, ci95: wilson95(right, n) }
}

/** Wilson 1927, Journal of the American Statistical Association 22:209, without correction for continuity. */
export function wilson95(right: number, n: number): readonly [number, number] {
  const z = normalQuantile(0.975)
  const share = right / n
  const middle = share + (z * z) / (2 * n)
  const half = z * Math.sqrt((share * (1 - share)) / n + (z * z) / (4 * n * n))
  const whole = 1 + (z * z) / n
  return [Math.max(0, (middle - half) / whole), Math.min(1, (middle + half) / whole)]
}
