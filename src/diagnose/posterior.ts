import { addSeries, type ChangeSums, scoreChange } from '../statistics/changePosterior.js'
import { exp, ln } from '../statistics/distributions.js'
import type { EvidenceRows, PointEvidence } from './evidence.js'
import { effectAt, shareAt, type Hypothesis, type Kind, type Shape, type Who } from './hypothesis.js'
import { FINE_MS, type Onset, onsetBins, splitBin } from './onsetBins.js'
import { insidePrior, PRIOR, suspicions } from './prior.js'

/** All explanations of a point's evidence, weights adding to 1, heaviest first; negligible ones left out. */
export interface PointPosterior {
  readonly atMs: number
  readonly fromMs: number
  readonly hypotheses: readonly Hypothesis[]
}

export interface PosteriorInput {
  readonly evidence: PointEvidence
  readonly atMs: number
  /** Tolerance at the present level: prior standard deviation of a zero error. */
  readonly toleranceNtu: number
  /** Cleanings by unit: what a film did ends there. */
  readonly cleaningsMs: readonly (readonly number[])[]
  /** Log-odds that the other points' pairs add to the laboratory; null where too few points could ever tell. */
  readonly laboratoryGain: number | null
}

const NEGLIGIBLE = 1e-4
/** Lighter than e^−16 of the heaviest is far below negligible: not worth an exponential. */
const WEIGHTLESS = -16
/** Bins lighter than e^−7 of the heaviest stay as they are. */
const WORTH_SPLITTING = -7

/**
 * Weighs who × kind × shape × onset. Sizes are integrated out in closed form; no sampling. Onset bins that matter are
 * split to six hours and weighed again: a step that does not fit its wide bin would favour whatever shape is steeper.
 */
export function weighHypotheses(input: PosteriorInput): PointPosterior {
  const coarse = onsetBins(input.evidence.fromMs, input.atMs)
  const nobody: Weighed = { hypothesis: { ...NOBODY, onsetMs: input.atMs }, logWeight: ln(PRIOR.nobody) }
  const found: Weighed[] = [nobody]
  for (const family of familiesOf(input)) for (const onset of coarse) found.push(weigh(input, family, onset))
  const most = Math.max(...found.map(one => one.logWeight))
  const fine = found.flatMap(one => {
    const { family, onset } = one
    if (family === undefined || onset === undefined) return [one]
    const whole = onset.widthMs <= FINE_MS || one.logWeight < most + WORTH_SPLITTING
    return whole ? [one] : splitBin(onset).map(part => weigh(input, family, part))
  })
  return { atMs: input.atMs, fromMs: input.evidence.fromMs, hypotheses: normalise(fine) }
}

/** One who × kind × shape, with what one unit of its size adds to each value once it is fully there. */
interface Family {
  readonly who: Who
  readonly kind: Kind
  readonly shape: Shape
  readonly logPrior: number
  readonly priorSd: number
  readonly unitEffects: readonly (readonly number[])[]
}

interface Weighed {
  readonly hypothesis: Omit<Hypothesis, 'weight'>
  readonly logWeight: number
  readonly family?: Family
  readonly onset?: Onset
}

const NOBODY = {
  who: 'nobody',
  kind: 'none',
  shape: 'step',
  before: false,
  widthMs: 0,
  endedMs: null,
  mean: 0,
  sd: 0,
} as const

function familiesOf({ evidence, toleranceNtu, laboratoryGain }: PosteriorInput): Family[] {
  return suspicions(evidence.units, toleranceNtu, laboratoryGain).flatMap(({ who, kind, priorSd, shapes }) => {
    const unitEffects = evidence.series.map(rows => unitEffect(rows, who, kind))
    if (unitEffects.every(effects => effects.every(effect => effect === 0))) return []
    return shapes.map(({ shape, logPrior }) => ({ who, kind, shape, logPrior, priorSd, unitEffects }))
  })
}

function weigh(input: PosteriorInput, family: Family, onset: Onset): Weighed {
  const { who, kind, shape, unitEffects } = family
  const sums: ChangeSums = { ff: 0, fy: 0 }
  const cleanings = kind === 'fouling' && typeof who === 'number' ? (input.cleaningsMs[who] ?? []) : []
  const endedMs = cleanings.find(atMs => atMs > onset.atMs) ?? null
  input.evidence.series.forEach((rows, i) => {
    addSeries(sums, rows, changeEffect(rows, unitEffects[i] ?? [], shape, onset, input.atMs, endedMs))
  })
  const { logEvidence, mean, sd } = scoreChange(sums, family.priorSd)
  const inside = ln(Math.max(1e-300, insidePrior(kind, mean, sd)))
  const { atMs: onsetMs, before, widthMs } = onset
  return {
    hypothesis: { who, kind, shape, onsetMs, before, widthMs, endedMs, mean, sd },
    logWeight: family.logPrior + ln(onset.prior) + logEvidence + inside,
    family,
    onset,
  }
}

/** What one unit of size adds to each value once it is fully there, before whitening. */
function unitEffect(rows: EvidenceRows, who: Who, kind: Kind): number[] {
  return rows.timesMs.map((_, i) => {
    if (who === 'laboratory') return rows.line === 'grab' ? 1 : 0
    const weights = rows.weights[i] ?? []
    let weight = 0
    if (who === 'all') for (const one of weights) weight += one
    else if (typeof who === 'number') weight = weights[who] ?? 0
    if (Math.abs(weight) < 1e-12) return 0
    return (weight * effectAt(kind, rows.levelsNtu[i] ?? 0)) / (rows.tolerancesNtu[i] ?? 1)
  })
}

function changeEffect(
  rows: EvidenceRows,
  unitEffects: readonly number[],
  shape: Shape,
  onset: Onset,
  nowMs: number,
  endedMs: number | null,
): Float64Array {
  const effects = new Float64Array(unitEffects.length)
  const endMs = endedMs ?? Infinity
  const fullMs = Math.min(nowMs, endMs)
  let before = 0
  for (let i = 0; i < effects.length; i++) {
    const atMs = rows.timesMs[i]!
    let effect = 0
    if (atMs <= endMs) {
      effect = unitEffects[i]! * (shape === 'step' ? stepShare(onset, atMs) : shareAt(shape, onset.atMs, fullMs, atMs))
    }
    effects[i] = effect - rows.phi[i]! * before
    before = effect
  }
  return effects
}

/** Chance that a step that began somewhere in its bin is there: a value inside the bin misfits by half at most. */
function stepShare({ atMs: onsetMs, widthMs }: Onset, atMs: number): number {
  if (widthMs === 0) return atMs > onsetMs ? 1 : 0
  return Math.max(0, Math.min(1, (atMs - onsetMs) / widthMs + 0.5))
}

function normalise(found: readonly Weighed[]): Hypothesis[] {
  const most = Math.max(...found.map(one => one.logWeight))
  let total = 0
  const weighted: { hypothesis: Omit<Hypothesis, 'weight'>; weight: number }[] = []
  for (const { hypothesis, logWeight } of found) {
    if (logWeight < most + WEIGHTLESS) continue
    const weight = exp(logWeight - most)
    total += weight
    weighted.push({ hypothesis, weight })
  }
  const kept = weighted.filter(one => one.weight / total > NEGLIGIBLE)
  let keptTotal = 0
  for (const { weight } of kept) keptTotal += weight
  return kept
    .map(({ hypothesis, weight }) => ({ ...hypothesis, weight: weight / keptTotal }))
    .sort((a, b) => b.weight - a.weight)
}
