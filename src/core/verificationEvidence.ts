import { foundOfTolerance, foundUOfTolerance, type Verification } from '../compare/verification.js'
import type { EvidenceData } from '../model/events.js'
import { addCount } from '../model/exclusionCounts.js'
import { DIGITS, roundTo } from '../model/rounding.js'
import { formatInstant, sayDay } from '../model/time.js'
import type { ExclusionCounts } from '../model/vocabulary.js'
import { listWords, sayNtu } from '../recommend/summary.js'
import type { UnitFold } from './pointState.js'
import { sayReference } from './watchSentence.js'

/** References that are said in words; all of them are counted. */
const MOST_SAID = 3

/** As founds since the last adjustment, what each reference said last, and those that were left out. */
export function verificationEvidence(unit: UnitFold): EvidenceData[] {
  const since = unit.verifications.filter(one => one.atMs > unit.adjustedMs)
  if (since.length === 0) return []
  const used = since.filter(one => one.use === 'used')
  const excluded: ExclusionCounts = {}
  for (const { use } of since) if (use !== 'used') addCount(excluded, use, 1)
  const newest = new Map<string, Verification>()
  for (const one of used) newest.set(sayReference(one), one)
  const last = used.at(-1)
  return [
    {
      line: 'verification',
      against: newest.size === 0 ? 'references' : listWords([...newest.keys()]),
      n: used.length,
      ...(last === undefined
        ? {}
        : {
            says: [...newest.values()].slice(-MOST_SAID).map(sayFound).join('; '),
            biasNtu: roundTo(last.foundNtu - last.assignedNtu, DIGITS.ntu),
            sigmaNtu: roundTo(foundUOfTolerance(last) * last.toleranceNtu, DIGITS.ntu),
          }),
      excluded,
      points: used.map(one => [
        formatInstant(one.atMs),
        roundTo(foundOfTolerance(one), DIGITS.tolerances),
        roundTo(foundUOfTolerance(one), DIGITS.tolerances),
      ]),
    },
  ]
}

function sayFound(one: Verification): string {
  const off = one.foundNtu - one.assignedNtu
  const isInside = Math.abs(off) <= one.limitNtu
  return `${sayReference(one)} on ${sayDay(one.atMs)}: as found ${sayNtu(one.foundNtu)} NTU for ${sayNtu(one.assignedNtu)} NTU, ${isInside ? 'inside' : 'outside'} its limit of ${sayNtu(one.limitNtu)} NTU`
}
