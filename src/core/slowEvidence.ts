import type { SlowLine } from '../compare/slowLine.js'
import type { EvidenceData } from '../model/events.js'
import { DIGITS, roundTo } from '../model/rounding.js'
import { formatInstant } from '../model/time.js'
import { sayAbout, sayNtu } from '../recommend/summary.js'
import type { PointState } from './pointState.js'

/** The lines that watch the slow values of a unit; they have no chart and open nothing. */
export function slowEvidence(state: PointState, i: number): EvidenceData[] {
  return (state.slow[i] ?? []).flatMap(slow => {
    const { line, against, shift, sigma, points } = slow
    if (shift === null) return []
    const toleranceNtu = shift.ofTolerance === 0 ? 0 : Math.abs(shift.ntu / shift.ofTolerance)
    return [
      {
        line,
        against,
        n: points.length,
        says: saySlowLine(slow),
        biasNtu: shift.ntu,
        sigmaNtu: roundTo(sigma * toleranceNtu, DIGITS.ntu),
        excluded: {},
        points: points.map(([atMs, ofTolerance]): [string, number, number] => [
          formatInstant(atMs),
          ofTolerance,
          roundTo(sigma, DIGITS.tolerances),
        ]),
      },
    ]
  })
}

function saySlowLine({ shift, against }: SlowLine): string {
  if (shift === null) return ''
  if (!shift.isFar)
    return `within its habit: ${sayNtu(Math.abs(shift.ntu))} NTU ${shift.ntu < 0 ? 'lower' : 'higher'} in the newest days`
  const moved = `${sayNtu(Math.abs(shift.ntu))} NTU ${shift.ntu < 0 ? 'lower' : 'higher'} than its habit since ${sayAbout(shift.sinceMs)}`
  return shift.isCommon
    ? `${moved}, as other points are: the water, not the analyzer`
    : `${moved}, against ${against}; it opens nothing by itself`
}
