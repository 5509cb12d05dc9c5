import type { Work, WorkAction } from '../model/messages.js'
import type { Analyzer, Plant } from '../model/plant.js'
import { roundTo } from '../model/rounding.js'
import { sayInstant } from '../model/time.js'
import { toWholeUnit } from '../model/units.js'
import type { Contradiction } from './contradiction.js'
import { zeroMethodFor } from './decide.js'
import { asLeftLimitNtu } from './limits.js'
import { standardContradictions } from './standardContradictions.js'
import { newStandardsKnown, ownSecondary, type StandardsKnown } from './standards.js'
import { sayNtu } from './summary.js'
import { isZeroReference } from './visit.js'

/** What is known of an analyzer when a record about it is judged. */
export interface WorkStanding {
  /** Serial of the instrument that hangs there since an exchange; null where the register's holds. */
  readonly serial: string | null
  readonly standards: StandardsKnown
  readonly levelNtu: number | null
  /** Newest grab sample of the point before the work. */
  readonly lastGrab: { readonly ntu: number; readonly atMs: number; readonly sampleId: string | null } | null
  /** Slope of the readings marked calibrating up to the record, NTU a minute; null with fewer than three. */
  readonly slopeNtuPerMin: number | null
}

export const NOTHING_KNOWN: WorkStanding = {
  serial: null,
  standards: newStandardsKnown(),
  levelNtu: null,
  lastGrab: null,
  slopeNtuPerMin: null,
}

/** Share of the as-left limit a reading may move in a minute and still be accepted (common practice, no source). */
const STEADY_SHARE = 0.1
const SETTING: readonly WorkAction[] = ['zero', 'span', 'calibrated_primary']

/** What in the record speaks against the record: instrument, reference, result, the way it was set. */
export function contradictionsOf(
  work: Work,
  analyzer: Analyzer,
  plant: Plant,
  standing: WorkStanding = NOTHING_KNOWN,
): Contradiction[] {
  return [
    ...serialContradictions(work, analyzer, standing),
    ...standardContradictions(work, analyzer, plant, standing.standards),
    ...zeroMethodContradictions(work, plant, standing),
    ...resultContradictions(work, analyzer),
    ...steadyContradictions(work, analyzer, plant, standing),
    ...grabContradictions(work, analyzer, standing),
  ]
}

function serialContradictions(work: Work, analyzer: Analyzer, { serial }: WorkStanding): Contradiction[] {
  const present = serial ?? analyzer.serial
  if (work.serial === undefined || present === undefined || work.serial === present || work.action === 'replaced')
    return []
  return [
    {
      reference: 'work_record',
      standard: undefined,
      text: `the record names serial ${work.serial}, while ${analyzer.id} (tolerance ${String(analyzer.tolerance.absoluteNtu)} NTU) is ${present}`,
      ask: 'say which instrument was worked on',
      effect: 'no_proof',
    },
  ]
}

/** The dark response may do where the water is turbid; in clean water the zero is set on zero water, source on. */
function zeroMethodContradictions(
  { action, reference }: Work,
  plant: Plant,
  { levelNtu }: WorkStanding,
): Contradiction[] {
  if (action !== 'zero' || reference?.type !== 'source_off' || levelNtu === null) return []
  if (zeroMethodFor(plant, levelNtu) === 'source_off') return []
  return [
    {
      reference: 'work_record',
      standard: reference.id,
      text: `zero was set with the source off at ${sayNtu(levelNtu)} NTU, where below ${String(plant.zeroWaterBelowNtu)} NTU only zero water shows stray light and cell`,
      ask: 'repeat the zero on proven zero water, source on',
      effect: 'no_proof',
    },
  ]
}

function resultContradictions(work: Work, analyzer: Analyzer): Contradiction[] {
  const { reference, asLeft } = work
  if (reference === undefined || asLeft === undefined || work.accepted === false) return []
  const assigned = toWholeUnit(reference.assigned, analyzer.unit)
  const left = toWholeUnit(asLeft, analyzer.unit)
  const limitNtu = asLeftLimitNtu(analyzer, reference.type, assigned)
  if (Math.abs(left - assigned) <= limitNtu) return []
  const isZero = isZeroReference(reference.type)
  const off = isZero
    ? `${sayNtu(Math.abs(left - assigned))} NTU`
    : `${String(roundTo((100 * Math.abs(left - assigned)) / assigned, 1))} %`
  const limit = isZero ? `${sayNtu(limitNtu)} NTU` : `${String(roundTo(100 * analyzer.asLeftLimit, 1))} %`
  return [
    {
      reference: 'work_record',
      standard: reference.id,
      text: `as left ${String(left)} NTU is ${off} from ${String(assigned)} NTU, limit ${limit}, yet accepted`,
      ask: 'repeat the work until as left is inside its limit',
      effect: 'not_done',
    },
  ]
}

/** Readings in the cell of a standard that still move say nothing yet, whatever they stand at. */
function steadyContradictions(
  work: Work,
  analyzer: Analyzer,
  plant: Plant,
  { slopeNtuPerMin, standards }: WorkStanding,
): Contradiction[] {
  const { reference } = work
  if (reference === undefined || slopeNtuPerMin === null || work.accepted === false) return []
  const assigned = toWholeUnit(reference.assigned, analyzer.unit)
  const steadyNtu = STEADY_SHARE * asLeftLimitNtu(analyzer, reference.type, assigned)
  if (Math.abs(slopeNtuPerMin) <= steadyNtu) return []
  const direction = slopeNtuPerMin < 0 ? 'fell' : 'rose'
  const on = ownSecondary(analyzer.id, plant, standards)?.id
  return [
    {
      reference: 'work_record',
      standard: reference.id,
      text: `accepted while the reading still ${direction} ${sayNtu(Math.abs(slopeNtuPerMin))} NTU a minute, limit ${sayNtu(steadyNtu)} NTU a minute`,
      ask: `wait until the bubbles are out, then verify again${isZeroReference(reference.type) ? '' : ` on ${reference.id ?? on ?? 'its standard'}`}`,
      effect: 'not_done',
    },
  ]
}

/** Set on nothing, and then equal to the grab sample or to the meter beside it: a comparison was used as a standard. */
function grabContradictions(work: Work, analyzer: Analyzer, { lastGrab }: WorkStanding): Contradiction[] {
  if (work.reference !== undefined || !SETTING.includes(work.action)) return []
  const near = (value: number | undefined, ntu: number): boolean =>
    value !== undefined && Math.abs(toWholeUnit(value, analyzer.unit) - ntu) <= analyzer.resolutionNtu * 1.001
  const beside = work.besideAfter === undefined ? undefined : toWholeUnit(work.besideAfter, analyzer.unit)
  const toGrab = lastGrab !== null && (near(work.asLeft, lastGrab.ntu) || near(work.besideAfter, lastGrab.ntu))
  const toMeter = beside !== undefined && near(work.asLeft, beside)
  if (!toGrab && !toMeter) return []
  const like = toGrab
    ? `grab sample ${lastGrab.sampleId ?? `of ${sayInstant(lastGrab.atMs)}`} (${sayNtu(lastGrab.ntu)} NTU)`
    : `the second meter (${sayNtu(beside ?? 0)} NTU)`
  return [
    {
      reference: 'work_record',
      standard: undefined,
      text: `no reference is named and it was left equal to ${like}`,
      ask: 'repeat it on a reference; a grab sample proves work, it does not set an analyzer',
      effect: 'no_proof',
    },
  ]
}
