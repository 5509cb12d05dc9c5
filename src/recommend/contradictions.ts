import type { Work } from '../model/messages.js'
import type { Analyzer, Plant } from '../model/plant.js'
import { toWholeUnit } from '../model/units.js'

/** Something in a work record that does not fit the register, the calendar or itself. */
export interface Contradiction {
  readonly reference: 'standard' | 'zero_water' | 'work_record'
  readonly standard: string | undefined
  readonly text: string
  readonly ask: string
}

/** What in the record speaks against the record: the reference first, then the result. */
export function contradictionsOf(work: Work, analyzer: Analyzer, plant: Plant): Contradiction[] {
  return [
    ...serialContradictions(work, analyzer),
    ...standardContradictions(work, analyzer, plant),
    ...resultContradictions(work, analyzer),
  ]
}

function serialContradictions(work: Work, analyzer: Analyzer): Contradiction[] {
  if (
    work.serial === undefined ||
    analyzer.serial === undefined ||
    work.serial === analyzer.serial ||
    work.action === 'replaced'
  )
    return []
  return [
    {
      reference: 'work_record',
      standard: undefined,
      text: `the record names serial ${work.serial}, the register ${analyzer.serial} for ${analyzer.id}`,
      ask: 'say which instrument was worked on',
    },
  ]
}

function standardContradictions(work: Work, analyzer: Analyzer, plant: Plant): Contradiction[] {
  const reference = work.reference
  if (reference?.id === undefined) return []
  const registered = plant.standards.find(standard => standard.id === reference.id)
  const own = plant.standards.find(standard => standard.analyzer === analyzer.id && standard.type === reference.type)
  const found: Contradiction[] = []
  const add = (text: string, ask: string): void => {
    found.push({ reference: 'standard', standard: reference.id, text, ask })
  }
  if (registered === undefined) {
    add(
      `standard ${reference.id} is not in the register`,
      'enter it in the register or name the standard that was used',
    )
    return found
  }
  if (registered.analyzer !== undefined && registered.analyzer !== analyzer.id) {
    const right = own === undefined ? 'a standard assigned on this analyzer' : own.id
    add(
      `standard ${registered.id} is assigned on ${registered.analyzer}${own === undefined ? '' : `, ${analyzer.id} has ${own.id}`}: it proves nothing here`,
      `repeat with ${right}`,
    )
  }
  const assigned = toWholeUnit(reference.assigned, analyzer.unit)
  if (
    work.action !== 'standard_assigned' &&
    Math.abs(assigned - registered.assignedNtu) > 0.005 * registered.assignedNtu
  ) {
    add(
      `the record says ${String(assigned)} NTU for ${registered.id}, the register ${String(registered.assignedNtu)} NTU`,
      'say which of the two is right',
    )
  }
  const expires = reference.expires ?? registered.expires
  if (expires !== undefined && new Date(work.atMs).toISOString().slice(0, 10) > expires) {
    add(`standard ${registered.id} expired on ${expires}`, 'repeat with a standard in date before adjusting')
  }
  return found
}

function resultContradictions(work: Work, analyzer: Analyzer): Contradiction[] {
  const { reference, asLeft } = work
  if (reference === undefined || asLeft === undefined || work.accepted === false) return []
  const assigned = toWholeUnit(reference.assigned, analyzer.unit)
  const left = toWholeUnit(asLeft, analyzer.unit)
  if (assigned <= 0 || Math.abs(left - assigned) <= analyzer.asLeftLimit * assigned) return []
  const off = Math.round((1000 * Math.abs(left - assigned)) / assigned) / 10
  return [
    {
      reference: 'work_record',
      standard: reference.id,
      text: `as left ${String(left)} NTU is ${String(off)} % from ${String(assigned)} NTU, limit ${String(100 * analyzer.asLeftLimit)} %, yet accepted`,
      ask: 'repeat the work until as left is inside its limit',
    },
  ]
}
