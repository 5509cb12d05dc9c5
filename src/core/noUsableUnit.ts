import { sayDuration, sayInstant } from '../model/time.js'
import type { Exclusion } from '../model/vocabulary.js'
import type { PointContext } from './context.js'
import type { FindingDetail } from './findingDetail.js'
import type { PointState } from './pointState.js'
import { samplingByRule } from './substituteSampling.js'

interface Restoring {
  readonly state: string
  readonly ask: string
}

/** Why a unit gives no usable reading and what brings it back, the quickest first (common practice, no source). */
const RESTORING: readonly (readonly [Exclusion, Restoring])[] = [
  ['settling', { state: 'settling', ask: 'let it settle' }],
  ['maintenance', { state: 'in maintenance', ask: 'end its maintenance once the work allows' }],
  ['stuck', { state: 'stuck', ask: 'check its display, output and gateway' }],
  ['quality_bad', { state: 'marked bad', ask: 'check at its source why it is marked bad' }],
  ['no_usable_reading', { state: 'silent', ask: 'check its power, output and gateway' }],
  ['state_fault', { state: 'in fault', ask: 'read the fault on its display' }],
  ['no_flow', { state: 'without sample flow', ask: 'restore its flow by site procedure, then let it settle' }],
  ['level_not_recoverable', { state: 'full of bubbles', ask: 'look at its degassing, pressure and flow' }],
  ['beyond_range', { state: 'beyond its range', ask: 'see whether the water has left its range' }],
]
const SLOWEST: Restoring = { state: 'not usable', ask: 'see what keeps it from being used' }
/** "stuck", "in maintenance": why a unit does not count. @param against null where nothing is known against it */
export function sayUnusable(against: Exclusion | null): string {
  return (RESTORING.find(([reason]) => reason === against)?.[1] ?? SLOWEST).state
}

/** Of a sentence: what, each unit's state, advice, and what stands between them. */
const LONGEST = 240
const BETWEEN = 7

/** What each unit of the point lacks, which is back soonest, and what to do meanwhile. */
export function noUsableUnit(context: PointContext, state: PointState, sinceMs: number, endMs: number): FindingDetail {
  const { point } = context
  const { fold } = state
  const units = point.analyzers
    .map((id, i) => {
      const rank = RESTORING.findIndex(([reason]) => reason === fold.units[i]?.against)
      return { id, rank: rank < 0 ? RESTORING.length : rank, ...(RESTORING[rank]?.[1] ?? SLOWEST) }
    })
    .sort((a, b) => a.rank - b.rank)
  const [quickest] = units
  if (quickest === undefined) throw new RangeError(`${point.id} has no analyzer`)
  const what = `no usable reading since ${sayInstant(sinceMs)} (${sayDuration(endMs - sinceMs)})`
  const sampling = samplingByRule(context, fold, endMs)
  const ask = sampling?.ask ?? 'start manual sampling as the local rule requires'
  const quickly = `quickest is ${quickest.id}: ${quickest.ask}; `
  const states = units.map(({ id, state }) => `${id} ${state}`).join(', ')
  const length = point.id.length + what.length + quickly.length + ask.length + 4
  const used = sampling === undefined || sampling.used === '' ? '' : `, ${sampling.used}`
  const meanwhile = length + used.length <= LONGEST ? `${ask}${used}` : ask
  const advice = `${quickly}${meanwhile}`
  const fits = point.id.length + what.length + states.length + advice.length + BETWEEN <= LONGEST
  return {
    values: {
      quickest: quickest.id,
      quickestBy: quickest.ask,
      ...sampling?.values,
      ...Object.fromEntries(units.map(({ id, state }) => [id, state])),
    },
    what: fits ? `${what}, ${states}` : what,
    advice,
    meanwhile,
  }
}
