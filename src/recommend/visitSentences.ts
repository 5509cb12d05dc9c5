import { type StandardReading, zeroAndSpanError } from '../compare/visitErrors.js'
import { roundTo } from '../model/rounding.js'
import { sayNtu } from './summary.js'
import { filmErrorOf, type ReferenceReading, referenceErrorOf, standardReading, type Visit } from './visit.js'

/** Errors of opposite sign that leave less than this share of the larger one hid each other. */
const CANCELLED_SHARE = 0.5

/** What the records of a visit say of the film and of the calibration; nothing where they say nothing. */
export function visitSentences(visit: Visit): string[] {
  return [
    ...filmSentence(visit),
    ...[visit.low, visit.high].flatMap(reading => (reading === null ? [] : [referenceSentence(reading)])),
    ...bothSentence(visit),
    ...cancelledSentence(visit),
  ]
}

function filmSentence(visit: Visit): string[] {
  const error = filmErrorOf(visit)
  if (error === undefined) return []
  const { errorNtu, percent } = error
  return [
    `cleaning moved the reading by ${sayNtu(errorNtu)} NTU${percent === undefined ? '' : ` (${String(roundTo(percent, 1))} %)`}: fouling error`,
  ]
}

function referenceSentence(reading: ReferenceReading): string {
  const { errorNtu, percent } = referenceErrorOf(reading)
  const share = percent === undefined ? '' : ` (${String(roundTo(Math.abs(percent), 1))} %)`
  const on = reading.id ?? REFERENCE_WORDS[reading.type]
  return `as found it read ${sayNtu(Math.abs(errorNtu))} NTU${share} too ${errorNtu < 0 ? 'high' : 'low'} on ${on} of ${sayNtu(reading.assignedNtu)} NTU: calibration error`
}

const REFERENCE_WORDS = {
  zero_water: 'zero water',
  source_off: 'the dark response',
  secondary_standard: 'its standard',
  primary_standard: 'a primary standard',
} as const

function bothSentence({ low, high }: Visit): string[] {
  if (low === null || high === null) return []
  const errors = zeroAndSpanError(standardReading(low), standardReading(high) satisfies StandardReading)
  if (errors === undefined) return []
  return [
    `both references together: zero ${sayNtu(errors.zeroNtu)} NTU, span ${String(roundTo(100 * errors.spanRel, 1))} %`,
  ]
}

/** A film upward and a zero downward make a reading that looks right and is right by chance only. */
function cancelledSentence(visit: Visit): string[] {
  const film = filmErrorOf(visit)?.errorNtu
  const calibration = visit.low === null ? undefined : referenceErrorOf(visit.low).errorNtu
  if (film === undefined || calibration === undefined || film * calibration >= 0) return []
  const larger = Math.max(Math.abs(film), Math.abs(calibration))
  if (Math.abs(film + calibration) >= CANCELLED_SHARE * larger) return []
  return [
    `before the cleaning two errors cancelled each other: ${sayNtu(Math.abs(film))} NTU of film and ${sayNtu(Math.abs(calibration))} NTU of zero, so it looked right by chance`,
  ]
}
