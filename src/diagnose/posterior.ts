import type { SampleLine } from '../compare/sampleLines.js'
import {
  type ChangeSums,
  newChangeSums,
  offsetCoupling,
  type Offsets,
  scoreChange,
  solveOffsets,
} from '../statistics/changePosterior.js'
import { addChange, type Change, type TailSums, tailSums } from '../statistics/changeSums.js'
import { exp, ln } from '../statistics/distributions.js'
import { orderSeries } from '../statistics/orderedSeries.js'
import type { EvidenceRows, PointEvidence } from './evidence.js'
import { effectAt, type Hypothesis, type Kind, type Shape, type Who } from './hypothesis.js'
import type { LaboratoryView } from './laboratory.js'
import { FINE_MS, type Onset, onsetBins, splitBin } from './onsetBins.js'
import { logInsidePrior, PRIOR, suspicions } from './prior.js'

/** All explanations of a point's evidence, weights adding to 1, heaviest first; negligible ones left out. */
export interface PointPosterior {
  readonly atMs: number
  readonly fromMs: number
  readonly hypotheses: readonly Hypothesis[]
  /** By unit: standing offset if nothing had changed, tolerances, with the spread it has when a change is known. */
  readonly standing: readonly { readonly mean: number; readonly sd: number }[]
}

export interface PosteriorInput {
  readonly evidence: PointEvidence
  readonly atMs: number
  /** Tolerance at the present level: prior standard deviation of a zero error. */
  readonly toleranceNtu: number
  /** Cleanings by unit: what a film did ends there. */
  readonly cleaningsMs: readonly (readonly number[])[]
  /** By unit: times after which whatever was wrong was gone without work. */
  readonly recoveredMs: readonly (readonly number[])[]
  /** What the other points' pairs say of the laboratory; null where too few points could ever tell. */
  readonly laboratory: LaboratoryView | null
  /** Lines that feed several units of the point, but not all. */
  readonly sampleLines?: readonly SampleLine[]
}

const NEGLIGIBLE = 1e-4
/** Lighter than e^−16 of the heaviest is far below negligible: not worth an exponential. */
const WEIGHTLESS = -16
/** Bins lighter than e^−7 of the family's heaviest stay as they are. */
const WORTH_SPLITTING = -7

/**
 * Weighs who × kind × shape × onset. Sizes are integrated out in closed form; no sampling. Onset bins that matter are
 * split to six hours and weighed again: a step that does not fit its wide bin would favour whatever shape is steeper.
 * The heaviest wide bin of each family and its neighbours always are: a large step misfits a wide bin by so much that
 * something absurd without a bin ("always so") would win.
 */
export function weighHypotheses(input: PosteriorInput): PointPosterior {
  const { atMs, evidence } = input
  const coarse = onsetBins(evidence.fromMs, atMs)
  const offsets = solveOffsets(evidence.series, evidence.offsetVariances)
  const fine: Weighed[] = [nobody(atMs, evidence.offsetVariances.length)]
  for (const family of familiesOf(input)) {
    const found = coarse.map(onset => weigh(family, onset, atMs, offsets))
    const least = heaviest(found) + WORTH_SPLITTING
    const best = heaviestWide(found)
    found.forEach((one, i) => {
      const isWorth = one.logWeight >= least || Math.abs(i - best) <= 1
      if (one.onset.widthMs <= FINE_MS || !isWorth) fine.push(one)
      else for (const part of splitBin(one.onset)) fine.push(weigh(family, part, atMs, offsets))
    })
  }
  return {
    atMs,
    fromMs: evidence.fromMs,
    hypotheses: normalise(fine, offsets, evidence.units),
    standing: Array.from({ length: evidence.units }, (_, unit) => ({
      mean: offsets.means[unit]!,
      sd: Math.sqrt(offsets.covariance[unit]![unit]!),
    })),
  }
}

/** One who × kind × shape, with the sums of what it adds to each series that it touches. */
interface Family {
  readonly who: Who
  readonly kind: Kind
  readonly shape: Shape
  readonly logPrior: number
  readonly priorMean: number
  readonly priorSd: number
  /** When it is over, ascending. */
  readonly endsMs: readonly number[]
  readonly tails: readonly TailSums[]
}

interface Weighed {
  readonly family: Family
  readonly onset: Onset
  readonly endedMs: number | null
  readonly mean: number
  readonly sd: number
  readonly sums: ChangeSums
  readonly logWeight: number
}

function nobody(atMs: number, offsets: number): Weighed {
  const logPrior = ln(PRIOR.nobody)
  return {
    family: { who: 'nobody', kind: 'none', shape: 'step', logPrior, priorMean: 0, priorSd: 0, endsMs: [], tails: [] },
    onset: { atMs, before: false, widthMs: 0, prior: 1 },
    endedMs: null,
    mean: 0,
    sd: 0,
    sums: newChangeSums(offsets),
    logWeight: logPrior,
  }
}

function familiesOf(input: PosteriorInput): Family[] {
  const { evidence, atMs, toleranceNtu, laboratory, sampleLines = [] } = input
  const ordered = evidence.series.map(rows => orderSeries(rows, { times: rows.timesMs, phi: rows.phi }))
  const suspected = suspicions(evidence.units, toleranceNtu, laboratory, sampleLines)
  return suspected.flatMap(({ who, kind, priorMean, priorSd, shapes }) => {
    const endsMs = endsOf(input, who, kind)
    const tails = evidence.series.flatMap((rows, i) => {
      const effect = unitEffect(rows, who, kind)
      return effect.every(one => one === 0) ? [] : [tailSums(ordered[i]!, effect, endsMs, atMs)]
    })
    if (tails.length === 0) return []
    return shapes.map(({ shape, logPrior }) => ({ who, kind, shape, logPrior, priorMean, priorSd, endsMs, tails }))
  })
}

/** When an error of this kind was over, ascending: all units together only where all recovered at once. */
function endsOf({ cleaningsMs, recoveredMs }: PosteriorInput, who: Who, kind: Kind): number[] {
  if (who === 'all') {
    const [first = [], ...others] = recoveredMs
    return first.filter(atMs => others.every(one => one.includes(atMs)))
  }
  if (typeof who !== 'number') return []
  const ends = [...(recoveredMs[who] ?? []), ...(kind === 'fouling' ? (cleaningsMs[who] ?? []) : [])]
  return ends.sort((a, b) => a - b)
}

/** What one unit of size adds to each value once it is fully there, before whitening. */
function unitEffect(rows: EvidenceRows, who: Who, kind: Kind): number[] {
  return rows.timesMs.map((_, i) => {
    if (who === 'laboratory') return rows.line === 'grab' ? 1 : 0
    const weights = rows.weights[i] ?? []
    let weight = 0
    if (who === 'all') for (const one of weights) weight += one
    else if (typeof who === 'number') weight = weights[who] ?? 0
    else if (typeof who === 'object') for (const unit of who.units) weight += weights[unit] ?? 0
    if (Math.abs(weight) < 1e-12 || (kind === 'fouling' && rows.isClean === true)) return 0
    return (weight * effectAt(kind, rows.levelsNtu[i] ?? 0)) / (rows.tolerancesNtu[i] ?? 1)
  })
}

const POWER = { step: 0, ramp: 1, growth: 2 } as const

function weigh(family: Family, onset: Onset, nowMs: number, offsets: Offsets): Weighed {
  const endedMs = family.endsMs.find(atMs => atMs > onset.atMs) ?? null
  const change: Change = {
    power: POWER[family.shape],
    onset: onset.atMs,
    width: onset.widthMs,
    fullAge: Math.max(1, Math.min(nowMs, endedMs ?? Infinity) - onset.atMs),
  }
  const sums = newChangeSums(offsets.means.length)
  for (const tails of family.tails) addChange(sums, tails, change)
  const { logEvidence, mean, sd } = scoreChange(sums, offsets, family.priorSd, family.priorMean)
  const inside = logInsidePrior(family.kind, mean, sd)
  const logWeight = family.logPrior + ln(onset.prior) + logEvidence + inside
  return { family, onset, endedMs, mean, sd, sums, logWeight }
}

/** Position of the heaviest bin that can be split; none is far from every bin. */
function heaviestWide(found: readonly Weighed[]): number {
  let best = -Infinity
  let most = -Infinity
  found.forEach(({ onset, logWeight }, i) => {
    if (onset.widthMs <= FINE_MS || logWeight <= most) return
    best = i
    most = logWeight
  })
  return best
}

function heaviest(found: readonly Weighed[]): number {
  let most = -Infinity
  for (const { logWeight } of found) most = Math.max(most, logWeight)
  return most
}

function normalise(found: readonly Weighed[], offsets: Offsets, units: number): Hypothesis[] {
  const most = heaviest(found)
  const weighted: { one: Weighed; weight: number }[] = []
  let total = 0
  for (const one of found) {
    if (one.logWeight < most + WEIGHTLESS) continue
    const weight = exp(one.logWeight - most)
    weighted.push({ one, weight })
    total += weight
  }
  const kept = weighted.filter(({ weight }) => weight / total > NEGLIGIBLE)
  let keptTotal = 0
  for (const { weight } of kept) keptTotal += weight
  return kept
    .map(({ one, weight }) => hypothesisOf(one, weight / keptTotal, offsets, units))
    .sort((a, b) => b.weight - a.weight)
}

function hypothesisOf(weighed: Weighed, weight: number, offsets: Offsets, units: number): Hypothesis {
  const { family, onset, endedMs, mean, sd, sums } = weighed
  const coupling = offsetCoupling(sums, offsets).slice(0, units)
  const { who, kind, shape } = family
  const { atMs: onsetMs, before, widthMs } = onset
  return { who, kind, shape, onsetMs, before, widthMs, endedMs, mean, sd, coupling, weight }
}
