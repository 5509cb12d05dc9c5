import type { Analyzer } from '../model/plant.js'
import { kept } from '../model/rounding.js'
import { toleranceAt } from '../model/tolerance.js'
import type { Correction } from '../recommend/correction.js'
import type { Judgement, Proof } from '../recommend/proof.js'
import type { UnitFold } from './pointState.js'

const Z95 = 1.959964

/** The correction of the record before a piece of work: of its own visit, or what grab samples before and after it say. */
export function correctionBefore(unit: UnitFold, workMs: number): Correction | undefined {
  const { visit, corrections } = unit.work
  const fromMs = visit !== null && visit.fromMs <= workMs ? visit.fromMs : workMs
  return corrections.find(one => one.visitMs >= fromMs)
}

/**
 * Where nobody read before and after at a visit that is proven, the grab samples before and after it give the size, and
 * the estimated begin the time.
 */
export function keepProvenCorrection(
  unit: UnitFold,
  analyzer: Analyzer | undefined,
  proof: Proof,
  judged: Judgement,
): void {
  const open = unit.case
  const estimate = open?.kind === 'bias' ? open.estimate : null
  if (analyzer === undefined || proof.before === null || estimate?.onset == null) return
  if (correctionBefore(unit, proof.workMs) !== undefined || estimate.onset.estimateMs >= proof.workMs) return
  const toleranceNtu = toleranceAt(analyzer.tolerance, unit.levelNtu ?? 0)
  const uBefore = proof.before.half / Z95
  unit.work.corrections = [
    ...unit.work.corrections,
    {
      visitMs: proof.workMs,
      source: 'grabs',
      serial: unit.work.serial ?? analyzer.serial ?? null,
      levelNtu: kept(estimate.levelNtu),
      parts: [
        {
          kind: 'bias',
          fromMs: estimate.onset.estimateMs,
          shape: estimate.pRamp >= 0.5 ? 'linear' : 'step',
          errorNtu: kept((judged.mean - proof.before.value) * toleranceNtu),
          uNtu: kept(Math.sqrt(uBefore * uBefore + judged.u * judged.u) * toleranceNtu),
          low: null,
          high: null,
        },
      ],
    },
  ]
}
