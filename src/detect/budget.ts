import { priorInnovation, redundantLines } from '../compare/redundant.js'
import type { Plant, Point } from '../model/plant.js'
import { toleranceAt } from '../model/tolerance.js'
import { solveLimit } from './limit.js'
import { BASELINE_ERROR } from './redundantChart.js'

/** What the false-alarm budget means at one point: shown by `check`, solved as the charts will solve it. */
export interface PointLimits {
  readonly point: string
  readonly analyzers: number
  readonly lines: readonly {
    readonly line: 'grab' | 'redundant'
    readonly valuesPerDay: number
    /** Tolerance over the uncertainty of one value. */
    readonly s: number
    /** Log-likelihood units. */
    readonly limit: number
    /** Mean values between false signals of one side with the bias at delta0. */
    readonly arl: number
  }[]
  readonly falseOpeningsPerMonth: number
}

/** One-sided charts that share an analyzer's budget: two for each line it has. */
export function chartSides(point: Point): number {
  const hasGrabs = point.grab.perDay > 0
  return 2 * ((hasGrabs ? 1 : 0) + (redundantLines(point).length > 0 ? 1 : 0))
}

const MONTHS_PER_YEAR = 12
/** AR(1) coefficient taken before a line has learnt its own. */
const PHI = 0.4

/** Limits that follow from the register, at the tolerance of clean water. */
export function limitsOf(plant: Plant): readonly PointLimits[] {
  return [...plant.points.values()].map(point => {
    const sides = chartSides(point)
    const toleranceNtu = toleranceAt(point.tolerance, 0)
    const shared = { budgetYears: plant.analyzerYearsPerFalseAlarm, sides }
    const u =
      Math.sqrt(
        point.grab.standardUncertaintyNtu * point.grab.standardUncertaintyNtu +
          (point.grab.resolutionNtu * point.grab.resolutionNtu) / 12,
      ) / toleranceNtu
    const grab = solveLimit({
      ...shared,
      u,
      delta0: plant.delta0,
      delta1: plant.delta1,
      valuesPerDay: point.grab.perDay,
    })
    const lines: PointLimits['lines'][number][] = [
      { line: 'grab', valuesPerDay: point.grab.perDay, s: 1 / u, limit: grab.limit, arl: grab.arl },
    ]
    const [redundant] = redundantLines(point)
    if (redundant !== undefined) {
      const innovation = priorInnovation(redundant, point.analyzers.length)
      const share = 1 - PHI
      const solved = solveLimit({
        ...shared,
        u: innovation,
        delta0: share * (plant.delta0 + BASELINE_ERROR),
        delta1: share * plant.delta1,
        valuesPerDay: 4,
      })
      lines.push({ line: 'redundant', valuesPerDay: 4, s: 1 / innovation, limit: solved.limit, arl: solved.arl })
    }
    return {
      point: point.id,
      analyzers: point.analyzers.length,
      lines,
      falseOpeningsPerMonth: point.analyzers.length / (plant.analyzerYearsPerFalseAlarm * MONTHS_PER_YEAR),
    }
  })
}
