import { DAY_MS, HOUR_MS } from '../model/time.js'
import { addSeries, type ChangeSums, scoreChange } from '../statistics/changePosterior.js'
import { exp, ln, normalCdf } from '../statistics/distributions.js'
import type { EvidenceRows, PointEvidence } from './evidence.js'
import { effectAt, shareAt, type Hypothesis, type Kind, type Shape, type Who } from './hypothesis.js'

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

/** Prior probabilities. Within "unit" all units are alike, as are all begins in time. */
const PRIOR = { nobody: 0.5, unit: 0.45, all: 0.04, laboratory: 0.01, before: 0.15 } as const
const KIND_PRIOR: readonly (readonly [Exclude<Kind, 'none'>, number])[] = [
  ['zero', 0.4],
  ['span', 0.3],
  ['fouling', 0.3],
]
/**
 * A film grows, and mostly ever faster; a drift comes at once or evenly, and seldom faster. Every kind has every shape,
 * so that a chance bend in the record does not decide what is wrong.
 */
const DRIFT_SHAPES: readonly (readonly [Shape, number])[] = [
  ['step', 0.45],
  ['ramp', 0.45],
  ['growth', 0.1],
]
const SHAPE_PRIOR: Record<Exclude<Kind, 'none'>, readonly (readonly [Shape, number])[]> = {
  zero: DRIFT_SHAPES,
  span: DRIFT_SHAPES,
  fouling: [
    ['step', 0.1],
    ['ramp', 0.4],
    ['growth', 0.5],
  ],
}
const LABORATORY_KIND: readonly (readonly [Exclude<Kind, 'none'>, number])[] = [['zero', 1]]
const LABORATORY_SHAPE: readonly (readonly [Shape, number])[] = [['step', 1]]
const SPAN_PRIOR_SD = 0.1
const SPAN_MOST = 0.5
const NEGLIGIBLE = 1e-4
/** Lighter than e^−16 of the heaviest is far below negligible: not worth an exponential. */
const WEIGHTLESS = -16

/**
 * Weighs who × kind × shape × onset. Sizes are integrated out in closed form; no sampling. Onset bins that matter are
 * split to six hours and weighed again: a step that does not fit its wide bin would favour whatever shape is steeper.
 */
export function weighHypotheses(input: PosteriorInput): PointPosterior {
  const coarse = onsetBins(input.evidence.fromMs, input.atMs)
  const nobody: Weighed = { ...NOBODY, onsetMs: input.atMs, logWeight: ln(PRIOR.nobody) }
  const found: Weighed[] = [nobody]
  const families = familiesOf(input)
  for (const family of families) for (const onset of coarse) found.push(weigh(input, family, onset))
  const most = Math.max(...found.map(one => one.logWeight))
  const fine = found.flatMap(one => {
    const split = one.family === undefined || one.widthMs <= FINE_MS || one.logWeight < most + WORTH_SPLITTING
    return split ? [one] : splitBin(one).map(onset => weigh(input, one.family!, onset))
  })
  return { atMs: input.atMs, fromMs: input.evidence.fromMs, hypotheses: normalise(fine) }
}

/** One who × kind × shape, with what one unit of its size adds to each value once it is fully there. */
interface Family {
  readonly who: Who
  readonly kind: Exclude<Kind, 'none'>
  readonly shape: Shape
  readonly logPrior: number
  readonly priorSd: number
  readonly unitEffects: readonly (readonly number[])[]
}

type Weighed = Omit<Hypothesis, 'weight'> & {
  readonly logWeight: number
  readonly family?: Family
  readonly prior?: number
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
const FINE_MS = 6 * HOUR_MS
/** Bins lighter than e^−7 of the heaviest stay as they are. */
const WORTH_SPLITTING = -7

function familiesOf(input: PosteriorInput): Family[] {
  const families: Family[] = []
  for (const { who, prior } of suspects(input.evidence.units, input.laboratoryGain !== null)) {
    const isLaboratory = who === 'laboratory'
    for (const [kind, kindPrior] of isLaboratory ? LABORATORY_KIND : KIND_PRIOR) {
      if (who === 'all' && kind === 'fouling') continue
      const unitEffects = input.evidence.series.map(rows => unitEffect(rows, who, kind))
      if (unitEffects.every(effects => effects.every(effect => effect === 0))) continue
      for (const [shape, shapePrior] of isLaboratory ? LABORATORY_SHAPE : SHAPE_PRIOR[kind]) {
        families.push({
          who,
          kind,
          shape,
          logPrior: ln(prior * kindPrior * shapePrior) + (isLaboratory ? (input.laboratoryGain ?? 0) : 0),
          priorSd: isLaboratory ? 1 : kind === 'span' ? SPAN_PRIOR_SD : input.toleranceNtu,
          unitEffects,
        })
      }
    }
  }
  return families
}

function suspects(units: number, withLaboratory: boolean): { who: Who; prior: number }[] {
  const list: { who: Who; prior: number }[] = []
  for (let unit = 0; unit < units; unit++) list.push({ who: unit, prior: PRIOR.unit / units })
  if (units > 1) list.push({ who: 'all', prior: PRIOR.all })
  if (withLaboratory) list.push({ who: 'laboratory', prior: PRIOR.laboratory })
  return list
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
  return {
    who,
    kind,
    shape,
    onsetMs: onset.atMs,
    before: onset.before,
    widthMs: onset.widthMs,
    endedMs,
    mean,
    sd,
    logWeight: family.logPrior + ln(onset.prior) + logEvidence + inside,
    family,
    prior: onset.prior,
  }
}

function splitBin({ onsetMs, widthMs, prior = 0 }: Weighed): Onset[] {
  const parts = Math.ceil(widthMs / FINE_MS)
  const partMs = widthMs / parts
  return Array.from({ length: parts }, (_, k) => ({
    atMs: onsetMs - widthMs / 2 + (k + 0.5) * partMs,
    before: false,
    widthMs: partMs,
    prior: prior / parts,
  }))
}

/** Share of the posterior inside a prior that is cut: a film only adds, a span error stays below one half. */
function insidePrior(kind: Kind, mean: number, sd: number): number {
  if (kind === 'fouling') return 2 * normalCdf(mean / sd)
  if (kind === 'span') return normalCdf((SPAN_MOST - mean) / sd) - normalCdf((-SPAN_MOST - mean) / sd)
  return 1
}

interface Onset {
  readonly atMs: number
  readonly before: boolean
  /** A step began somewhere in so wide a bin round it. */
  readonly widthMs: number
  readonly prior: number
}

/** Six-hour bins for three days, days to a fortnight, then three days each; one bin stands for "before the evidence". */
function onsetBins(fromMs: number, nowMs: number): Onset[] {
  const bins: { atMs: number; widthMs: number }[] = []
  let endMs = nowMs
  while (endMs > fromMs) {
    const age = nowMs - endMs
    const widthMs = age < 3 * DAY_MS ? FINE_MS : age < 14 * DAY_MS ? DAY_MS : 3 * DAY_MS
    // Bins are cut at whole six hours, so that the same evidence is cut alike whenever one looks.
    const startMs = Math.max(fromMs, Math.ceil((endMs - widthMs) / FINE_MS) * FINE_MS)
    const cutMs = startMs < endMs ? startMs : Math.max(fromMs, endMs - widthMs)
    bins.push({ atMs: (cutMs + endMs) / 2, widthMs: endMs - cutMs })
    endMs = cutMs
  }
  const total = Math.max(1, nowMs - fromMs)
  return [
    { atMs: fromMs - 1, before: true, widthMs: 0, prior: PRIOR.before },
    ...bins.map(bin => ({ ...bin, before: false, prior: ((1 - PRIOR.before) * bin.widthMs) / total })),
  ]
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
  const weighted = found.map(({ logWeight, family: _family, prior: _prior, ...hypothesis }) => {
    const weight = logWeight < most + WEIGHTLESS ? 0 : exp(logWeight - most)
    total += weight
    return { ...hypothesis, weight }
  })
  const kept = weighted.filter(hypothesis => hypothesis.weight / total > NEGLIGIBLE)
  let keptTotal = 0
  for (const { weight } of kept) keptTotal += weight
  return kept
    .map(hypothesis => ({ ...hypothesis, weight: hypothesis.weight / keptTotal }))
    .sort((a, b) => b.weight - a.weight)
}
