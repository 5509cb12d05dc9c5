import { mean, sampleCovariance, sampleVariance } from 'simple-statistics'
import { assertFinite } from './finite.js'

/** How finely one of several instruments measures, told from their readings of the same things. */
export interface InstrumentPrecision {
  /**
   * Variance of its errors, in the unit of the readings squared, as it comes out: below 0 where the instrument is too
   * fine, or the readings too few, to be told apart from errorless.
   */
  readonly errorVariance: number
  /** Standard deviation of that estimate where errors are normal. */
  readonly errorVarianceSd: number
  /** True where the variance came out below 0: it has no root and is no standard deviation. */
  readonly negative: boolean
}

export interface Precision {
  /** In the order of the arguments. */
  readonly instruments: readonly InstrumentPrecision[]
  /** Variance of what was measured, in the unit of the readings squared; may come out below 0 as well. */
  readonly productVariance: number
}

type Readings = readonly number[]

/**
 * Precision of two instruments from readings of the same things: s₁² − s₁₂ and s₂² − s₁₂, the product's variance s₁₂
 * (Grubbs 1948, J. Am. Stat. Assoc. 43:243; formula from memory). Errors must not hang together with each other nor with
 * what is measured. Where the product varies much more than the instruments err, the estimates are loose: look at their
 * standard deviation, √((s₁² V + cov²)/(n − 1)) with V the variance of the difference.
 * @param first finite, two or more  @param second finite, as many, in the same order
 * @throws RangeError naming what is wrong
 */
export function precisionOfTwo(first: Readings, second: Readings): Precision {
  assertReadings({ first, second })
  const difference = minus(first, second)
  return {
    // s₁² − s₁₂ is the covariance with the difference, which loses no digits where the product varies much.
    instruments: [precision([...first], difference), precision([...second], minus(second, first))],
    productVariance: sampleCovariance([...first], [...second]),
  }
}

/**
 * Precision of three instruments: (V₁₂ + V₁₃ − V₂₃)/2 and cyclic, V_ij the variance of the difference (Grubbs 1948,
 * formula from memory), so that the product falls out. Errors must not hang together. Half that sum is the covariance of
 * the two differences that the instrument has part in, which gives its standard deviation: √((V₁₂ V₁₃ + cov²)/(n − 1)).
 * @param first finite, two or more  @param second finite, as many, in the same order  @param third likewise
 * @throws RangeError naming what is wrong
 */
export function precisionOfThree(first: Readings, second: Readings, third: Readings): Precision {
  assertReadings({ first, second, third })
  const all = [first, second, third] as const
  const instruments = all.map((own, i) => {
    const [one, other] = all.filter((_, j) => j !== i)
    return precision(minus(own, one!), minus(own, other!))
  })
  const pairs = [sampleCovariance([...first], [...second]), sampleCovariance([...first], [...third])]
  return { instruments, productVariance: mean([...pairs, sampleCovariance([...second], [...third])]) }
}

function precision(one: number[], other: number[]): InstrumentPrecision {
  const errorVariance = sampleCovariance(one, other)
  const squares = sampleVariance(one) * sampleVariance(other) + errorVariance * errorVariance
  return { errorVariance, errorVarianceSd: Math.sqrt(squares / (one.length - 1)), negative: errorVariance < 0 }
}

function minus(one: Readings, other: Readings): number[] {
  return one.map((value, i) => value - other[i]!)
}

function assertReadings(readings: Readonly<Record<string, Readings>>): void {
  const n = Object.values(readings)[0]?.length ?? 0
  for (const [name, values] of Object.entries(readings)) {
    assertFinite(name, values)
    if (values.length !== n)
      throw new RangeError(`${name} must have as many values as first (${n}), got ${values.length}`)
  }
  if (n < 2) throw new RangeError(`first must have at least two values, got ${n}`)
}
