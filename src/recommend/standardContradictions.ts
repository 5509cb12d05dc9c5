import type { Work } from '../model/messages.js'
import type { Analyzer, Plant } from '../model/plant.js'
import { roundTo } from '../model/rounding.js'
import { sayDay } from '../model/time.js'
import { toWholeUnit } from '../model/units.js'
import type { Contradiction } from './contradiction.js'
import { isExpired, ownSecondary, type StandardInForce, standardInForce, type StandardsKnown } from './standards.js'
import { WORK_WORDS } from './summary.js'
import { isZeroReference } from './visit.js'

/** Difference of two statements of one value that is no slip of the pen, as a share. */
const SAME_VALUE = 0.005
/** Zero water reads 0.01 to 0.03 NTU from one bottle to the next (common practice, no source). */
const SAME_ZERO_NTU = 0.02

/** What speaks against the reference a record names: whose it is, its value, its date, what happened since. */
export function standardContradictions(
  work: Work,
  analyzer: Analyzer,
  plant: Plant,
  known: StandardsKnown,
): Contradiction[] {
  const { reference } = work
  if (reference === undefined) return []
  const inForce = reference.id === undefined ? undefined : standardInForce(reference.id, analyzer.id, plant, known)
  const texts = [
    ...(inForce === undefined ? unknownStandard(work, analyzer) : ownership(inForce, analyzer, plant, known)),
    ...(inForce === undefined
      ? []
      : [...value(work, analyzer, inForce), ...outdated(work, analyzer, inForce), ...lot(work, inForce)]),
    ...date(work, analyzer, inForce),
  ]
  return texts.map(([text, ask]) => ({
    reference: reference.type === 'zero_water' ? 'zero_water' : 'standard',
    standard: reference.id,
    text,
    ask,
    effect: 'no_proof',
  }))
}

type Said = readonly [text: string, ask: string]

/**
 * A reference without an id is nobody's business but its date; a value being assigned makes the standard known. Zero
 * water is made or opened for the day and the dark needs no value: few plants list them, so a name alone says nothing.
 */
function unknownStandard({ action, reference }: Work, analyzer: Analyzer): Said[] {
  if (reference?.id === undefined || action === 'standard_assigned' || isZeroReference(reference.type)) return []
  const assigned = toWholeUnit(reference.assigned, analyzer.unit)
  return [
    [
      `standard ${reference.id} is not in the register and was never assigned on ${analyzer.id}, so nobody vouches for its ${String(assigned)} NTU`,
      'enter it in the register, or name the standard that was used',
    ],
  ]
}

function ownership(inForce: StandardInForce, analyzer: Analyzer, plant: Plant, known: StandardsKnown): Said[] {
  if (inForce.analyzer === undefined || inForce.analyzer === analyzer.id) return []
  const own = ownSecondary(analyzer.id, plant, known)
  return [
    [
      `standard ${inForce.id} is assigned on ${inForce.analyzer}${own === undefined ? '' : `, ${analyzer.id} has ${own.id}`}: it proves nothing here, ${String(inForce.assignedNtu)} NTU is its value there`,
      `repeat with ${own === undefined ? 'a standard assigned on this analyzer' : own.id}`,
    ],
  ]
}

/** Where two values are told of one standard, as left is held against both. */
function value({ action, reference, asLeft }: Work, analyzer: Analyzer, inForce: StandardInForce): Said[] {
  if (reference === undefined || action === 'standard_assigned') return []
  const assigned = toWholeUnit(reference.assigned, analyzer.unit)
  const same = isZeroReference(reference.type) ? SAME_ZERO_NTU : SAME_VALUE * inForce.assignedNtu
  if (Math.abs(assigned - inForce.assignedNtu) <= same) return []
  const where =
    inForce.assignedBy === 'register' ? 'the register' : `the assignment of ${sayDay(inForce.assignedMs ?? 0)}`
  const left = asLeft === undefined ? undefined : toWholeUnit(asLeft, analyzer.unit)
  const judged =
    left === undefined || inForce.assignedNtu === 0
      ? ''
      : `; as left ${String(left)} is ${away(left, assigned)} against the first, ${away(left, inForce.assignedNtu)} against the second`
  return [
    [
      `the record says ${String(assigned)} NTU for ${inForce.id}, ${where} ${String(inForce.assignedNtu)} NTU${judged}`,
      'say which of the two is right',
    ],
  ]
}

function away(left: number, assigned: number): string {
  if (assigned === 0) return `${String(Math.abs(roundTo(left, 3)))} NTU ${left < 0 ? 'low' : 'high'}`
  const percent = roundTo((100 * (left - assigned)) / assigned, 1)
  return percent === 0 ? 'right' : `${String(Math.abs(percent))} % ${percent < 0 ? 'low' : 'high'}`
}

/** Read on another response than it was assigned on, a value says what the calibration changed, not what drifted. */
function outdated({ action, atMs, reference, asFound }: Work, analyzer: Analyzer, inForce: StandardInForce): Said[] {
  const by = inForce.outdatedBy
  if (by === null || by.atMs >= atMs || action === 'standard_assigned') return []
  if (inForce.analyzer !== undefined && inForce.analyzer !== analyzer.id) return []
  const found =
    asFound === undefined || reference === undefined
      ? ''
      : `, so ${String(toWholeUnit(asFound, analyzer.unit))} NTU as found says nothing yet`
  return [
    [
      `the value of ${inForce.id} (${String(inForce.assignedNtu)} NTU) dates from before the ${WORK_WORDS[by.action]} of ${sayDay(by.atMs)}${found}`,
      `assign ${inForce.id} anew on ${analyzer.id}, then verify`,
    ],
  ]
}

/** Value and date in the register are those of its lot. */
function lot({ reference }: Work, inForce: StandardInForce): Said[] {
  if (reference?.lot === undefined || inForce.lot === undefined || reference.lot === inForce.lot) return []
  if (reference.expires !== undefined) return []
  return [
    [
      `lot ${reference.lot} of ${inForce.id} (${String(inForce.assignedNtu)} NTU) is not the lot of the register, ${inForce.lot}, so its date is not known`,
      'enter the lot with its value and date',
    ],
  ]
}

function date({ atMs, reference, asFound }: Work, analyzer: Analyzer, inForce: StandardInForce | undefined): Said[] {
  const expires = reference?.expires ?? inForce?.expires
  if (reference === undefined || !isExpired(expires, atMs)) return []
  const name = reference.id ?? reference.lot
  const what =
    reference.type === 'zero_water' ? 'the zero water' : name === undefined ? 'the standard' : `standard ${name}`
  return [
    [
      `${what} (${String(toWholeUnit(reference.assigned, analyzer.unit))} NTU) expired on ${expires ?? ''}${asFound === undefined ? '' : ', so as found is not used'}`,
      'repeat with a fresh one, in date, before adjusting',
    ],
  ]
}
