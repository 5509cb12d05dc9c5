import { calibrationError, foulingError } from '../compare/visitErrors.js'
import type { Work } from '../model/messages.js'
import type { Analyzer } from '../model/plant.js'
import { roundTo } from '../model/rounding.js'
import { toWholeUnit } from '../model/units.js'
import { sayNtu } from './summary.js'

/** What a work record says of the film and of the calibration, by the published arithmetic; nothing where it says nothing. */
export function visitSentences(work: Work, analyzer: Analyzer): string[] {
  return [...filmSentence(work, analyzer), ...calibrationSentence(work, analyzer)]
}

function filmSentence(work: Work, analyzer: Analyzer): string[] {
  if (work.asFound === undefined || work.asFoundClean === undefined) return []
  // In a standard the water beside has nothing to say.
  const inWater = work.reference === undefined
  const whole = (value: number | undefined): number | undefined =>
    value === undefined ? undefined : toWholeUnit(value, analyzer.unit)
  const { errorNtu, percent } = foulingError({
    before: toWholeUnit(work.asFound, analyzer.unit),
    after: toWholeUnit(work.asFoundClean, analyzer.unit),
    besideBefore: inWater ? whole(work.besideBefore) : undefined,
    besideAfter: inWater ? whole(work.besideAfter) : undefined,
  })
  return [
    `cleaning moved the reading by ${sayNtu(errorNtu)} NTU${percent === undefined ? '' : ` (${String(roundTo(percent, 1))} %)`}: fouling error`,
  ]
}

function calibrationSentence(work: Work, analyzer: Analyzer): string[] {
  const found = work.asFoundClean ?? work.asFound
  if (work.reference === undefined || found === undefined) return []
  const { errorNtu, percent } = calibrationError({
    assigned: toWholeUnit(work.reference.assigned, analyzer.unit),
    cleanedReading: toWholeUnit(found, analyzer.unit),
  })
  const share = percent === undefined ? '' : ` (${String(roundTo(Math.abs(percent), 1))} %)`
  return [
    `as found it read ${sayNtu(Math.abs(errorNtu))} NTU${share} too ${errorNtu < 0 ? 'high' : 'low'} on its reference: calibration error`,
  ]
}
