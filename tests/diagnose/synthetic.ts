import type { Difference } from '../../src/compare/difference.js'
import type { Pair } from '../../src/compare/pair.js'
import type { Verification } from '../../src/compare/verification.js'
import { UNIT_INNOVATION } from '../../src/compare/redundant.js'
import { type EvidenceInput, layOutEvidence } from '../../src/diagnose/evidence.js'
import { estimateUnit, type UnitEstimate } from '../../src/diagnose/estimate.js'
import { type PointPosterior, weighHypotheses } from '../../src/diagnose/posterior.js'
import { DAY_MS } from '../../src/model/time.js'
import { type Tolerance, toleranceAt } from '../../src/model/tolerance.js'
import { START_MS } from '../model/plantFixture.js'
import { normalSource } from '../statistics/random.js'

export const TOLERANCE: Tolerance = { absoluteNtu: 0.05, relative: 0.1 }
const PHI = 0.4

/** What is true at an invented point. Times in days from the begin. */
export interface Truth {
  readonly units: number
  readonly days: number
  /** Grab samples a day; 0 for none. */
  readonly perDay: number
  /** Random part of the laboratory, tolerances. */
  readonly u: number
  readonly levelNtu: (day: number) => number
  /** Error of a unit, NTU. */
  readonly biasNtu: (unit: number, day: number, levelNtu: number) => number
  /** Error of the laboratory, tolerances. */
  readonly laboratory?: (day: number) => number
  readonly seed: number
}

/** Pairs and six-hour differences as the fold would have kept them: laboratory noise, and a slow mismatch of each unit. */
export function observed(truth: Truth): { pairs: Pair[]; differences: Difference[] } {
  const normal = normalSource(truth.seed)
  const slow = new Array<number>(truth.units).fill(0)
  const pairs: Pair[] = []
  const differences: Difference[] = []
  const shownBy = (day: number, levelNtu: number) =>
    slow.map(
      (mismatch, unit) => levelNtu + truth.biasNtu(unit, day, levelNtu) + mismatch * toleranceAt(TOLERANCE, levelNtu),
    )
  let pairsDone = 0
  for (let day = 0.25; day <= truth.days; day += 0.25) {
    for (const [unit, mismatch] of slow.entries()) slow[unit] = PHI * mismatch + UNIT_INNOVATION * normal()
    const levelNtu = truth.levelNtu(day)
    const toleranceNtu = toleranceAt(TOLERANCE, levelNtu)
    const shown = shownBy(day, levelNtu)
    const mean = shown.reduce((sum, ntu) => sum + ntu, 0) / truth.units
    if (truth.units > 1)
      differences.push({
        atMs: START_MS + day * DAY_MS,
        levelNtu,
        toleranceNtu,
        deviationsNtu: shown.map(ntu => ntu - mean),
        lines: [],
      })
    while (pairsDone < Math.floor(day * truth.perDay)) {
      pairsDone += 1
      const at = pairsDone / truth.perDay
      const grabNtu = levelNtu + (truth.u * normal() + (truth.laboratory?.(at) ?? 0)) * toleranceNtu
      pairs.push({
        atMs: START_MS + at * DAY_MS,
        grabNtu,
        qualifier: null,
        sampleId: null,
        laboratoryInstrument: null,
        use: 'used',
        units: shownBy(at, levelNtu).map(ntu => ({
          ntu,
          uNtu: truth.u * toleranceNtu,
          toleranceNtu,
          rateNtuPerH: 0,
          high: 0,
          low: 0,
          limit: 0,
        })),
      })
    }
  }
  return { pairs, differences }
}

export function evidenceInput(truth: Truth, change: Partial<EvidenceInput> = {}): EvidenceInput {
  return {
    ...observed(truth),
    verifications: [],
    units: truth.units,
    offset: { ntu: 0, variance: 0 },
    grabSigma: 1,
    phi: PHI,
    unitSigma: 1,
    sinceMs: new Array<number>(truth.units).fill(0),
    laboratoryIntervals: [],
    fromMs: START_MS,
    ...change,
  }
}

export interface Weighing {
  readonly cleaningsMs?: readonly (readonly number[])[]
  /** Log-odds that the other points lend to the laboratory; they say nothing of its size. */
  readonly laboratoryGain?: number
  readonly evidence?: Partial<EvidenceInput>
}

export function posteriorOf(truth: Truth, weighing: Weighing = {}): PointPosterior {
  return weighHypotheses({
    evidence: layOutEvidence(evidenceInput(truth, weighing.evidence)),
    atMs: START_MS + truth.days * DAY_MS,
    toleranceNtu: toleranceAt(TOLERANCE, truth.levelNtu(truth.days)),
    cleaningsMs: weighing.cleaningsMs ?? [],
    recoveredMs: [],
    laboratory: { gain: weighing.laboratoryGain ?? 0, mean: 0, sd: 1 },
  })
}

export function estimateOf(truth: Truth, unit = 0, weighing: Weighing = {}): UnitEstimate {
  const levelNtu = truth.levelNtu(truth.days)
  const toleranceNtu = toleranceAt(TOLERANCE, levelNtu)
  return estimateUnit(posteriorOf(truth, weighing), unit, levelNtu, toleranceNtu)
}

/** An as found: on zero water where the reference is worth nothing, on a secondary standard where it is anchored. */
export function found(told: {
  readonly day: number
  readonly assignedNtu: number
  readonly foundNtu: number
  readonly anchoredDay?: number
  readonly isClean?: boolean
  readonly uNtu?: number
}): Verification {
  const { day, assignedNtu, foundNtu, anchoredDay } = told
  const type = assignedNtu === 0 ? 'zero_water' : anchoredDay === undefined ? 'primary_standard' : 'secondary_standard'
  return {
    atMs: START_MS + day * DAY_MS,
    type,
    standard: assignedNtu === 0 ? null : `D-${String(assignedNtu)}`,
    assignedNtu,
    foundNtu,
    isClean: told.isClean ?? false,
    uNtu: told.uNtu ?? (assignedNtu === 0 ? 0.02 : 0.01 * assignedNtu),
    referenceUNtu: 0.01 * assignedNtu,
    toleranceNtu: toleranceAt(TOLERANCE, assignedNtu),
    limitNtu: assignedNtu === 0 ? 0.025 : 0.05 * assignedNtu,
    anchoredMs: anchoredDay === undefined ? null : START_MS + anchoredDay * DAY_MS,
    use: 'used',
  }
}
