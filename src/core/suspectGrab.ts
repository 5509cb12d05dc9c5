import { effectiveU, SUSPECT_OF } from '../detect/grabChart.js'
import { roundTo } from '../model/rounding.js'
import { formatInstant, sayInstant } from '../model/time.js'
import { sayNtu } from '../recommend/summary.js'
import { median } from '../statistics/robust.js'
import type { PointContext } from './context.js'
import type { LoggedPair, PointState } from './pointState.js'
import { residualOf } from './residuals.js'

/** A pair farther than this many uncertainties from the median of the last five waits for the next. */
const SUSPECT_U = 4

/** Suspect where it is far from what every usable unit has shown lately. */
export function isSuspect(context: PointContext, state: PointState, pair: LoggedPair): boolean {
  const { units } = state.fold
  const judged = pair.units.flatMap((unit, i) => {
    const known = units[i]
    if (unit === null || known === undefined || known.grab.recentResiduals.length < SUSPECT_OF) return []
    const u = effectiveU(known.grab, unit.uNtu / unit.toleranceNtu)
    return [Math.abs(residualOf(context, state, pair, unit) - median(known.grab.recentResiduals)) > SUSPECT_U * u]
  })
  return judged.length > 0 && judged.every(far => far)
}

/** Whether the next pair says what the suspect one said. */
export function bearsOut(context: PointContext, state: PointState, waiting: LoggedPair, pair: LoggedPair): boolean {
  const { units } = state.fold
  const agreements = pair.units.flatMap((unit, i) => {
    const before = waiting.units[i]
    const known = units[i]
    if (unit === null || before == null || known === undefined) return []
    const usual = known.grab.recentResiduals.length > 0 ? median(known.grab.recentResiduals) : 0
    const was = residualOf(context, state, waiting, before) - usual
    const is = residualOf(context, state, pair, unit) - usual
    const u = effectiveU(known.grab, unit.uNtu / unit.toleranceNtu)
    return [was * is > 0 && Math.abs(is) > Math.abs(was) / 2 && Math.abs(is) > 1.5 * u]
  })
  return agreements.length > 0 && agreements.every(agrees => agrees)
}

/** Says that a sample is suspect. @param refutedBy the next pair, where it has spoken already */
export function noteSuspect(
  context: PointContext,
  state: PointState,
  pair: LoggedPair,
  endMs: number,
  refutedBy?: LoggedPair,
): void {
  const named =
    pair.sampleId === null
      ? `The grab sample of ${sayInstant(pair.atMs)}`
      : `Grab sample ${pair.sampleId} of ${sayInstant(pair.atMs)}`
  const shown = pair.units
    .flatMap((unit, i) => (unit === null ? [] : [`${context.analyzers[i]?.id ?? ''} ${sayNtu(unit.ntu)}`]))
    .join(', ')
  const units = pair.units.filter(unit => unit !== null).length
  state.fold.notes.push({
    key: `grab ${context.point.id} ${String(pair.atMs)}${refutedBy === undefined ? '' : ' refuted'}`,
    atMs: endMs,
    type: 'reference.suspect',
    data: {
      summary: `${named} at ${context.point.id} reads ${sayNtu(pair.grabNtu)} NTU where ${shown} NTU ${units === 1 ? 'stands' : 'stand'} on line; ${
        refutedBy === undefined
          ? 'it waits for the next one: please repeat the sample, half an hour later or more'
          : `it is not used, for the next one, of ${sayInstant(refutedBy.atMs)}, differs: look at bottle, place and time`
      }.`,
      notify: 'shift_summary',
      reference: 'grab',
      point: context.point.id,
      ...(pair.sampleId === null ? {} : { sampleId: pair.sampleId }),
      ...(pair.laboratoryInstrument === null ? {} : { laboratoryInstrument: pair.laboratoryInstrument }),
      at: formatInstant(pair.atMs),
      because: [
        refutedBy === undefined
          ? 'the units of the point agree with each other'
          : 'the next sample does not bear it out',
        `it is ${String(roundTo(Math.abs(firstResidual(context, state, pair)), 1))} tolerances from the reading`,
      ],
      ask:
        refutedBy === undefined
          ? 'repeat the sample half an hour later or more; note the time to the minute'
          : 'look for what was different at this sample: bottle, place, time',
    },
  })
}

function firstResidual(context: PointContext, state: PointState, pair: LoggedPair): number {
  const unit = pair.units.find(one => one !== null)
  return unit == null ? 0 : residualOf(context, state, pair, unit)
}
