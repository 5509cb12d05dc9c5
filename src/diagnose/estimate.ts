import { DAY_MS, HOUR_MS } from '../model/time.js'
import { condenseMixture, type GaussianMixture, mixtureCdf, mixtureQuantile } from '../statistics/gaussianMixture.js'
import { effectAt, FILM_CROSSOVER_NTU, type Hypothesis, type Kind, presentShare } from './hypothesis.js'
import type { PointPosterior } from './posterior.js'

/** What the posterior says of one unit. Everything printed with an interval comes from here and nowhere else. */
export interface UnitEstimate {
  readonly atMs: number
  readonly levelNtu: number
  readonly toleranceNtu: number
  /** Signed, NTU. */
  readonly biasNtu: Interval
  /** Probability that the bias is beyond half the tolerance, and that it passes the tolerance within 7 days. */
  readonly pHalf: number
  readonly pPassesIn7Days: number
  /** Probability that the bias lies wholly outside the tolerance now. */
  readonly pOutside: number
  readonly who: {
    readonly self: number
    readonly all: number
    readonly other: number
    readonly laboratory: number
    readonly nobody: number
  }
  /** Kinds given that this unit is off. */
  readonly kinds: { readonly zero: number; readonly span: number; readonly fouling: number }
  /** Probability that it grows, given that this unit is off. */
  readonly pRamp: number
  /** Zero and span error; null while the unit is more likely sound than not. */
  readonly model: { readonly zeroNtu: Interval; readonly spanRel: Interval } | null
  readonly onset: Onset | null
  readonly forecast: {
    readonly toleranceAtMs: number
    readonly earliestMs: number
    readonly latestMs: number | null
  } | null
}

export interface Onset {
  readonly estimateMs: number
  /** More likely than not it began before the evidence does. */
  readonly beforeRecord: boolean
  /** Null where the begin may lie before the evidence. */
  readonly earliestMs: number | null
  readonly latestMs: number
}

export interface Interval {
  readonly value: number
  readonly low: number
  readonly high: number
}

/** Days ahead at which the forecast is read. */
const AHEAD_DAYS = [0, 1, 2, 3, 5, 7, 10, 14, 21, 30, 45, 60, 90] as const
/** A forecast reaches no further than this many times the past since the onset. */
const FORECAST_REACH = 3

export function estimateUnit(
  posterior: PointPosterior,
  unit: number,
  levelNtu: number,
  toleranceNtu: number,
): UnitEstimate {
  const blamed = posterior.hypotheses.filter(hypothesis => blames(hypothesis, unit))
  const mass = total(blamed)
  const look = { posterior, unit, levelNtu, toleranceNtu }
  const biasNow = biasMixture(look, posterior.atMs)
  const shareOf = (kind: Kind): number => (mass === 0 ? 0 : total(blamed.filter(one => one.kind === kind)) / mass)
  const lasting = blamed.filter(one => one.endedMs === null)
  return {
    atMs: posterior.atMs,
    levelNtu,
    toleranceNtu,
    biasNtu: interval(biasNow),
    pHalf: beyond(biasNow, toleranceNtu / 2),
    pOutside: beyond(biasNow, toleranceNtu),
    pPassesIn7Days: beyond(biasMixture(look, posterior.atMs + 7 * DAY_MS), toleranceNtu),
    who: {
      self: total(posterior.hypotheses.filter(one => one.who === unit)),
      all: total(posterior.hypotheses.filter(one => one.who === 'all')),
      // Another unit, or the line that brings some of them other water: neither is an error of this one.
      other: total(
        posterior.hypotheses.filter(
          one => typeof one.who === 'object' || (typeof one.who === 'number' && one.who !== unit),
        ),
      ),
      laboratory: total(posterior.hypotheses.filter(one => one.who === 'laboratory')),
      nobody: total(posterior.hypotheses.filter(one => one.who === 'nobody')),
    },
    kinds: { zero: shareOf('zero'), span: shareOf('span'), fouling: shareOf('fouling') },
    pRamp: mass === 0 ? 0 : total(blamed.filter(one => one.shape !== 'step')) / mass,
    model:
      mass < 0.5
        ? null
        : {
            zeroNtu: sizeInterval(zeroMixture(look)),
            spanRel: sizeInterval(spanMixture(posterior, unit)),
          },
    onset: onsetOf(lasting.length > 0 ? lasting : blamed, posterior.atMs),
    forecast: mass < 0.5 ? null : forecastOf(look),
  }
}

function blames(hypothesis: Hypothesis, unit: number): boolean {
  return hypothesis.who === unit || hypothesis.who === 'all'
}

function total(hypotheses: readonly Hypothesis[]): number {
  let sum = 0
  for (const { weight } of hypotheses) sum += weight
  return sum
}

/** A unit at a level. */
interface Look {
  readonly posterior: PointPosterior
  readonly unit: number
  readonly levelNtu: number
  readonly toleranceNtu: number
}

/** Distribution of the unit's bias, NTU, now or later: its standing offset and what changed. */
function biasMixture(look: Look, atMs: number): GaussianMixture {
  const { posterior, unit, levelNtu } = look
  return mixture(posterior.hypotheses, hypothesis => {
    const share = blames(hypothesis, unit) ? presentShare(hypothesis, posterior.atMs, atMs) : 0
    return withStanding(look, hypothesis, share * effectAt(hypothesis.kind, levelNtu))
  })
}

/**
 * Standing offset plus so many units of the change. The two are told apart badly where the change is old or small, so
 * their sum is known better than either: what the grabs of today say.
 */
function withStanding({ posterior, unit, toleranceNtu }: Look, hypothesis: Hypothesis, units: number): Part {
  const standing = posterior.standing[unit]!
  const each = units - toleranceNtu * hypothesis.coupling[unit]!
  const sdNtu = standing.sd * toleranceNtu
  return {
    mean: standing.mean * toleranceNtu + hypothesis.mean * each,
    sd: Math.sqrt(sdNtu * sdNtu + hypothesis.sd * hypothesis.sd * each * each),
  }
}

/** Distribution of the zero error: the standing offset counts as one. */
function zeroMixture(look: Look): GaussianMixture {
  return mixture(look.posterior.hypotheses, hypothesis => {
    const { kind, endedMs } = hypothesis
    const isOff = blames(hypothesis, look.unit) && endedMs === null && (kind === 'zero' || kind === 'fouling')
    return withStanding(look, hypothesis, isOff ? 1 : 0)
  })
}

/** Distribution of the span error: of its own, or the gain a film takes. */
function spanMixture(posterior: PointPosterior, unit: number): GaussianMixture {
  return mixture(posterior.hypotheses, hypothesis => {
    const { kind, endedMs, mean, sd } = hypothesis
    if (!blames(hypothesis, unit) || endedMs !== null || kind === 'zero') return { mean: 0, sd: 0 }
    return kind === 'span' ? { mean, sd } : { mean: -mean / FILM_CROSSOVER_NTU, sd: sd / FILM_CROSSOVER_NTU }
  })
}

interface Part {
  readonly mean: number
  readonly sd: number
}

function mixture(hypotheses: readonly Hypothesis[], part: (hypothesis: Hypothesis) => Part): GaussianMixture {
  const weights: number[] = []
  const means: number[] = []
  const sds: number[] = []
  for (const hypothesis of hypotheses) {
    const { mean, sd } = part(hypothesis)
    weights.push(hypothesis.weight)
    means.push(mean)
    sds.push(sd)
  }
  return condenseMixture({ weights, means, sds })
}

function interval(of: GaussianMixture): Interval {
  let mean = 0
  for (const [i, weight] of of.weights.entries()) mean += weight * (of.means[i] ?? 0)
  return { value: mean, low: mixtureQuantile(of, 0.025), high: mixtureQuantile(of, 0.975) }
}

/** Median and interval: where one explanation says "none" the mean would lie outside what is credible. */
function sizeInterval(of: GaussianMixture): Interval {
  return { value: mixtureQuantile(of, 0.5), low: mixtureQuantile(of, 0.025), high: mixtureQuantile(of, 0.975) }
}

function beyond(of: GaussianMixture, limitNtu: number): number {
  return Math.max(0, Math.min(1, 1 - mixtureCdf(of, limitNtu) + mixtureCdf(of, -limitNtu)))
}

/** Weighted quantiles of the onset; earliest is null where the begin may lie before the evidence. */
function onsetOf(blamed: readonly Hypothesis[], atMs: number): Onset | null {
  const mass = total(blamed)
  if (mass < 0.01) return null
  const ordered = [...blamed].sort((a, b) => a.onsetMs - b.onsetMs)
  const at = (p: number): Hypothesis | undefined => {
    let sum = 0
    for (const hypothesis of ordered) {
      sum += hypothesis.weight
      if (sum >= p * mass) return hypothesis
    }
    return ordered.at(-1)
  }
  const middle = at(0.5)
  const first = at(0.025)
  const last = at(0.975)
  if (middle === undefined || first === undefined || last === undefined) return null
  // Widened by a bin each way.
  return {
    estimateMs: Math.round(middle.onsetMs),
    beforeRecord: middle.before,
    earliestMs: first.before ? null : Math.round(first.onsetMs - first.widthMs),
    latestMs: Math.min(atMs, Math.round(last.onsetMs + Math.max(last.widthMs, HOUR_MS))),
  }
}

/** When the bias passes the tolerance, ramps carried on and steps flat; never further ahead than three times the past. */
function forecastOf(look: Look): UnitEstimate['forecast'] {
  const { posterior, unit, toleranceNtu } = look
  const onset = onsetOf(
    posterior.hypotheses.filter(one => blames(one, unit) && one.shape !== 'step'),
    posterior.atMs,
  )
  if (onset === null) return null
  const reachDays = (FORECAST_REACH * (posterior.atMs - onset.estimateMs)) / DAY_MS
  const passed = AHEAD_DAYS.filter(days => days <= reachDays).map(days => ({
    atMs: posterior.atMs + days * DAY_MS,
    p: beyond(biasMixture(look, posterior.atMs + days * DAY_MS), toleranceNtu),
  }))
  if ((passed[0]?.p ?? 1) >= 0.5) return null
  const first = (p: number): number | null => passed.find(day => day.p >= p)?.atMs ?? null
  const toleranceAtMs = first(0.5)
  if (toleranceAtMs === null) return null
  return { toleranceAtMs, earliestMs: first(0.05) ?? posterior.atMs, latestMs: first(0.95) }
}
