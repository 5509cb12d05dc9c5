import type { CorrectionData } from '../model/events.js'
import type { Analyzer } from '../model/plant.js'
import { DIGITS, roundTo } from '../model/rounding.js'
import { formatInstant } from '../model/time.js'
import { type Correction, correctionAt, correctionFromMs, ratingOf } from './correction.js'
import { sayFormula } from './correctionFormula.js'

const Z95 = 1.959964

/** A correction as a verdict carries it: from when to when, by what formula, how much at the visit. */
export function correctionData(correction: Correction, analyzer: Analyzer): CorrectionData {
  const { ntu, uNtu } = correctionAt(correction, correction.levelNtu, correction.visitMs)
  const rounded = (value: number): number => roundTo(value, DIGITS.ntu)
  return {
    from: formatInstant(correctionFromMs(correction)),
    to: formatInstant(correction.visitMs),
    source: correction.source,
    formula: sayFormula(correction),
    atLevelNtu: rounded(correction.levelNtu),
    atVisitNtu: rounded(ntu),
    ci95: [rounded(ntu - Z95 * uNtu), rounded(ntu + Z95 * uNtu)],
    rating: ratingOf(correction, analyzer),
  }
}
