import { type Pair, pairResidualNtu } from '../compare/pair.js'
import { HOUR_MS, MINUTE_MS } from '../model/time.js'
import { ln } from '../statistics/distributions.js'
import { median } from '../statistics/robust.js'

/** Times of sampling that look planned: where they stand, and how uncertain the scatter says they are. */
export interface PlannedTimes {
  /** Minute of the hour on which every time stands. */
  readonly minute: number
  readonly timeUncertaintyS: number
  readonly pairs: number
}

/** Fewer pairs do not tell scatter that follows the rate of change from scatter that does not. */
const LEAST_PAIRS = 20
const MOST_PAIRS = 100
/** Log-likelihood by which a wider uncertainty of the times must beat a laboratory that scatters more altogether. */
const GAIN = 6
/** Tried: uncertainties of the times, s, and factors on the variance of everything else. */
const TIMES_S = [300, 420, 600, 900, 1_200, 1_800, 2_700] as const
const FACTORS = [1, 1.5, 2.2, 3.3, 5, 7.5, 11] as const
/** A wild pair weighs no more than one that lies so many sd off. */
const CAP = 4

/**
 * Times of sampling look planned and not actual where all stand on one minute of the hour, the full hour or a quarter of
 * it, and the residuals scatter as the level's rate of change does: residual² = own² + (rate · time uncertainty)².
 * @param declaredS standard uncertainty of the times as declared, which the pairs' own uncertainty includes
 */
export function plannedTimes(pairs: readonly Pair[], declaredS: number): PlannedTimes | undefined {
  const last = pairs.at(-1)
  if (last === undefined) return undefined
  const offMs = last.atMs % HOUR_MS
  if (offMs % (15 * MINUTE_MS) !== 0) return undefined
  const rows: Row[] = []
  for (let k = pairs.length - 1; k >= 0 && rows.length < MOST_PAIRS; k--) {
    const pair = pairs[k]
    if (pair?.qualifier !== null || !isCompared(pair)) continue
    if (pair.atMs % HOUR_MS !== offMs) return undefined
    const row = rowOf(pair, declaredS)
    if (row !== undefined) rows.push(row)
  }
  if (rows.length < LEAST_PAIRS) return undefined
  const middle = median(rows.map(row => row.residualNtu))
  const centred = rows.map(row => ({ ...row, residualNtu: row.residualNtu - middle }))
  const asDeclared = likeliest(centred, [declaredS])
  const wider = likeliest(
    centred,
    TIMES_S.filter(timeS => timeS > 1.5 * declaredS),
  )
  if (wider.timeS === undefined || wider.log - asDeclared.log < GAIN) return undefined
  return { minute: offMs / MINUTE_MS, timeUncertaintyS: wider.timeS, pairs: rows.length }
}

function isCompared({ use }: Pair): boolean {
  return use === 'used' || use === 'suspect' || use === 'suspect_grab'
}

interface Row {
  readonly residualNtu: number
  /** Variance without the part of the times. */
  readonly variance: number
  readonly rateNtuPerS: number
}

function rowOf(pair: Pair, declaredS: number): Row | undefined {
  const unit = pair.units.find(one => one !== null)
  if (unit == null) return undefined
  const rateNtuPerS = unit.rateNtuPerH / 3_600
  const timed = rateNtuPerS * declaredS
  const variance = Math.max(unit.uNtu * unit.uNtu - timed * timed, unit.uNtu * unit.uNtu * 1e-4)
  return { residualNtu: pairResidualNtu(pair, unit, 0), variance, rateNtuPerS }
}

function likeliest(rows: readonly Row[], timesS: readonly number[]): { log: number; timeS: number | undefined } {
  let best: { log: number; timeS: number | undefined } = { log: -Infinity, timeS: undefined }
  for (const timeS of timesS) {
    for (const factor of FACTORS) {
      const log = rows.reduce((sum, row) => sum + logDensity(row, timeS, factor), 0)
      if (log > best.log) best = { log, timeS }
    }
  }
  return best
}

function logDensity({ residualNtu, variance, rateNtuPerS }: Row, timeS: number, factor: number): number {
  const timed = rateNtuPerS * timeS
  const v = variance * factor + timed * timed
  return -(Math.min(CAP * CAP, (residualNtu * residualNtu) / v) + ln(v)) / 2
}
