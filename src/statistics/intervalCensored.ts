import log1p from '@stdlib/math-base-special-log1p'
import { mean } from 'simple-statistics'
import { exp, ln } from './distributions.js'
import { weibullLikelihood, type CenteredLife, type Likelihood } from './lifeLikelihood.js'

/** A life of which is known when it still lasted and when it was over. */
export interface Life {
  /** It lasted to here at least; 0 where it was over at the first look. */
  readonly lower: number
  /** It was over here: the same as lower where the end was seen, null where it lasts still. */
  readonly upper: number | null
  /** How many such lives, above 0; 1 if left out. */
  readonly weight?: number
}

/** Reliability R(t) = exp(−(t/scale)^shape), with standard deviations from the observed information. */
export interface WeibullLife {
  /** Time at which 37 % are left, unit of the lives. */
  readonly scale: number
  /** Below 1 early failures, 1 a constant rate, above 1 wear. */
  readonly shape: number
  readonly lnScaleSd: number
  /** 0 where the shape was not estimated. */
  readonly lnShapeSd: number
  readonly lnCovariance: number
  /** With the log density of ends that were seen; no other constants. */
  readonly logLikelihood: number
}

/**
 * Why there is no fit. none_failed: the scale would be infinite, a bound is all there is. none_survived: all were over at
 * the first look. one_time: all may have ended at one time, the shape would be infinite. no_shape: seen to be over at
 * first looks only, and not more often at later ones, the shape would be 0. not_converged: no rest in 100 rounds.
 */
export type NoFit = 'none_failed' | 'none_survived' | 'one_time' | 'no_shape' | 'not_converged'

export type LifeFit = { readonly life: WeibullLife } | { readonly life: null; readonly reason: NoFit }

const ROUNDS = 100

/**
 * Exponential lives, R(t) = exp(−t/scale), by maximum likelihood from intervals, ends that were seen and lives that last
 * still (the likelihood: Turnbull 1976, J. R. Statist. Soc. B 38:290). The rate is 1/scale.
 * @param lives at least one  @returns a life of shape 1, or the reason why there is none
 * @throws RangeError naming the life that is none
 */
export function fitExponential(lives: readonly Life[]): LifeFit {
  assertLives(lives)
  const reason = withoutScale(lives)
  return reason === undefined ? climb(lives, true) : { life: null, reason }
}

/**
 * Weibull lives, otherwise the same. Whether there is a maximum is told beforehand, so that a likelihood that only rises
 * towards a border gives its reason and no number.
 */
export function fitWeibull(lives: readonly Life[]): LifeFit {
  assertLives(lives)
  const reason = withoutScale(lives) ?? withoutShape(lives)
  return reason === undefined ? climb(lives, false) : { life: null, reason }
}

function withoutScale(lives: readonly Life[]): NoFit | undefined {
  if (lives.every(life => life.upper === null)) return 'none_failed'
  return lives.every(life => life.lower === 0) ? 'none_survived' : undefined
}

function withoutShape(lives: readonly Life[]): NoFit | undefined {
  const lastSeen = Math.max(...lives.map(life => life.lower))
  if (lives.every(life => life.upper === null || life.upper >= lastSeen)) return 'one_time'
  if (lives.some(life => life.upper !== null && life.lower > 0)) return undefined
  // Failures before the first look only: the likelihood rises from shape 0 where they were looked at later on average.
  const over = meanLn(lives.map(({ upper, weight = 1 }) => ({ time: upper ?? 0, weight })))
  return over > meanLn(lives.map(({ lower, weight = 1 }) => ({ time: lower, weight }))) ? undefined : 'no_shape'
}

function meanLn(times: readonly { readonly time: number; readonly weight: number }[]): number {
  const known = times.filter(({ time }) => time > 0)
  const total = known.reduce((sum, { weight }) => sum + weight, 0)
  return known.reduce((sum, { time, weight }) => sum + weight * ln(time), 0) / total
}

// Newton's method on a concave function; a step is halved until it leads up and leaves the shape above 0.
function climb(lives: readonly Life[], shapeIsOne: boolean): LifeFit {
  const center = mean(
    lives
      .flatMap(({ lower, upper }) => [lower, upper ?? 0])
      .filter(time => time > 0)
      .map(ln),
  )
  const centered = lives.map(life => centeredLife(life, center))
  const enough = 1e-12 * lives.reduce((sum, { weight = 1 }) => sum + weight, 0)
  let shape = 1
  let offset = firstOffset(lives, center)
  let here = weibullLikelihood(centered, shape, offset)
  for (let round = 0; round < ROUNDS; round++) {
    const step = newtonStep(here, shapeIsOne)
    let share = step.shape < 0 ? Math.min(1, (0.9 * shape) / -step.shape) : 1
    let next = weibullLikelihood(centered, shape + share * step.shape, offset + share * step.offset)
    const least = here.value - 1e-13 * Math.abs(here.value) // rounding must not stop the last steps
    while (!(next.value >= least) && share > 1e-12) {
      share /= 2
      next = weibullLikelihood(centered, shape + share * step.shape, offset + share * step.offset)
    }
    shape += share * step.shape
    offset += share * step.offset
    here = next
    if (share === 1 && step.gain <= enough) {
      const seen = lives.filter(life => life.lower === life.upper)
      const constant = seen.reduce((sum, { lower, weight = 1 }) => sum + weight * ln(lower), 0)
      const scale = exp(center - offset / shape)
      return {
        life: { scale, shape, ...spread(here, shape, offset, shapeIsOne), logLikelihood: here.value - constant },
      }
    }
  }
  return { life: null, reason: 'not_converged' }
}

interface Step {
  readonly shape: number
  readonly offset: number
  /** Twice the rise of the likelihood that is left to gain. */
  readonly gain: number
}

function newtonStep(at: Likelihood, shapeIsOne: boolean): Step {
  if (shapeIsOne) {
    const offset = -at.byOffset / at.byOffsetTwice
    return { shape: 0, offset, gain: offset * at.byOffset }
  }
  const determinant = at.byShapeTwice * at.byOffsetTwice - at.byShapeAndOffset * at.byShapeAndOffset
  const shape = (at.byShapeAndOffset * at.byOffset - at.byOffsetTwice * at.byShape) / determinant
  const offset = (at.byShapeAndOffset * at.byShape - at.byShapeTwice * at.byOffset) / determinant
  return { shape, offset, gain: shape * at.byShape + offset * at.byOffset }
}

// The observed information of shape and offset, carried over to ln scale = −offset/shape and ln shape, and inverted.
function spread(
  at: Likelihood,
  shape: number,
  offset: number,
  shapeIsOne: boolean,
): Pick<WeibullLife, 'lnScaleSd' | 'lnShapeSd' | 'lnCovariance'> {
  const scale = -shape * shape * at.byOffsetTwice
  if (shapeIsOne) return { lnScaleSd: Math.sqrt(1 / scale), lnShapeSd: 0, lnCovariance: 0 }
  const both = shape * (shape * at.byShapeAndOffset + offset * at.byOffsetTwice)
  const own = -(
    shape * shape * at.byShapeTwice +
    2 * shape * offset * at.byShapeAndOffset +
    offset * offset * at.byOffsetTwice
  )
  const determinant = scale * own - both * both
  return {
    lnScaleSd: Math.sqrt(own / determinant),
    lnShapeSd: Math.sqrt(scale / determinant),
    lnCovariance: -both / determinant,
  }
}

// The exponential rate as if each had ended in the middle of its interval.
function firstOffset(lives: readonly Life[], center: number): number {
  let failed = 0
  let time = 0
  for (const { lower, upper, weight = 1 } of lives) {
    failed += upper === null ? 0 : weight
    time += weight * (upper === null ? lower : lower / 2 + upper / 2)
  }
  return ln(failed / time) + center
}

function centeredLife({ lower, upper, weight = 1 }: Life, center: number): CenteredLife {
  const from = ln(lower) - center
  if (upper === null) return { lower: from, upper: Infinity, width: Infinity, weight }
  return { lower: from, upper: ln(upper) - center, width: log1p((upper - lower) / lower), weight }
}

function assertLives(lives: readonly Life[]): void {
  if (lives.length === 0) throw new RangeError('lives must not be empty')
  lives.forEach(({ lower, upper, weight = 1 }, i) => {
    if (!(lower >= 0 && lower < Infinity))
      throw new RangeError(`lives[${i}].lower must be a finite number, 0 or more, got ${lower}`)
    if (upper !== null && !(upper > 0 && upper >= lower && upper < Infinity))
      throw new RangeError(`lives[${i}].upper must be null, or finite, above 0 and at least lower, got ${upper}`)
    if (!(weight > 0 && weight < Infinity))
      throw new RangeError(`lives[${i}].weight must be a finite number above 0, got ${weight}`)
  })
}
