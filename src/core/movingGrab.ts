import type { PairUnit } from '../compare/pair.js'
import type { Grab } from '../model/messages.js'
import { DAY_MS, formatInstant, sayInstant } from '../model/time.js'
import { sayNtu } from '../recommend/summary.js'
import type { PointContext } from './context.js'
import type { PointState } from './pointState.js'

/** Of the variance of a comparison, the share that the uncertain time must make to be worth saying. */
const BY_TIME = { refused: 0.5, kept: 0.9 } as const

/** Says, once a day, what a moving level does to a grab sample: kept with a larger uncertainty, or not compared. */
export function noteMoving(
  { point }: PointContext,
  state: PointState,
  grab: Grab,
  { uNtu, toleranceNtu, rateNtuPerH }: PairUnit,
  endMs: number,
): void {
  const { timeUncertaintyS } = point.grab
  const byTimeNtu = (rateNtuPerH * timeUncertaintyS) / 3_600
  const isRefused = uNtu > toleranceNtu
  if (byTimeNtu * byTimeNtu < (isRefused ? BY_TIME.refused : BY_TIME.kept) * uNtu * uNtu) return
  const name = grab.sampleId === undefined ? 'The grab sample' : `Grab sample ${grab.sampleId}`
  const used = isRefused
    ? `is not compared: the level moves by ${sayNtu(rateNtuPerH)} NTU/h, ${String(timeUncertaintyS)} s of doubt about its time make ${sayNtu(uNtu)} NTU, beyond the limit of ${sayNtu(toleranceNtu)} NTU`
    : `counts less: the level moves by ${sayNtu(rateNtuPerH)} NTU/h, so ${String(timeUncertaintyS)} s of doubt about its time leave ${sayNtu(uNtu)} NTU (limit ${sayNtu(toleranceNtu)} NTU)`
  state.fold.notes.push({
    key: `moving ${point.id} ${String(Math.floor(grab.sampledMs / DAY_MS))} ${String(isRefused)}`,
    atMs: endMs,
    type: 'reference.suspect',
    data: {
      summary: `${name} of ${sayInstant(grab.sampledMs)} at ${point.id} ${used}: take the next one when the level is steady.`,
      notify: 'shift_summary',
      reference: 'grab',
      point: point.id,
      ...(grab.sampleId === undefined ? {} : { sampleId: grab.sampleId }),
      ...(grab.laboratoryInstrument === undefined ? {} : { laboratoryInstrument: grab.laboratoryInstrument }),
      at: formatInstant(grab.sampledMs),
      because: [
        `rate of change ${sayNtu(rateNtuPerH)} NTU/h, standard uncertainty of the time ${String(timeUncertaintyS)} s: together ${sayNtu(byTimeNtu)} NTU`,
        `uncertainty of the comparison ${sayNtu(uNtu)} NTU; one beyond the tolerance of ${sayNtu(toleranceNtu)} NTU is not compared`,
      ],
      ask: 'take the next sample when the level is steady, and note its time to the minute',
    },
  })
}
