import type { SlowLine } from '../compare/slowLine.js'
import { foundOutside, type Verification } from '../compare/verification.js'
import { sayAbout, sayNtu } from '../recommend/summary.js'
import { sayDay } from '../model/time.js'
import type { PointState } from './pointState.js'
import { watchingLine } from './slowLines.js'

/**
 * Why a unit is watched by what stands beside grab samples and a second unit: an as found outside its limit, a related
 * point, the clean-water floor. Undefined where none of them does.
 */
export function watchSentence(id: string, state: PointState, i: number, hasComparator: boolean): string | undefined {
  const unit = state.fold.units[i]
  if (unit === undefined) return undefined
  const outside = foundOutside(unit.verifications, unit.adjustedMs)
  if (outside !== undefined) return `${id} is watched: ${sayFound(outside)}.`
  const slow = watchingLine(state, i, hasComparator)
  return slow === undefined ? undefined : `${id} is watched: ${saySlow(slow)}.`
}

function sayFound({ atMs, foundNtu, assignedNtu, limitNtu, ...one }: Verification): string {
  return `on ${sayReference(one)} it read ${sayNtu(foundNtu)} NTU as found on ${sayDay(atMs)}, worth ${sayNtu(assignedNtu)} NTU (limit ${sayNtu(limitNtu)} NTU); a second check or a grab sample decides`
}

/** "standard D-1012", "zero water". */
export function sayReference({ type, standard }: Pick<Verification, 'type' | 'standard'>): string {
  if (type === 'zero_water') return 'zero water'
  if (type === 'source_off') return 'the dark'
  return standard === null ? `a ${type.replaceAll('_', ' ')}` : `standard ${standard}`
}

function saySlow({ line, against, shift }: SlowLine): string {
  if (shift === null) return 'its habit is being learnt'
  const size = `${sayNtu(Math.abs(shift.ntu))} NTU ${shift.ntu < 0 ? 'lower' : 'higher'}`
  const since = `since ${sayAbout(shift.sinceMs)}`
  const tolerance = sayNtu(Math.abs(shift.ntu / shift.ofTolerance))
  return line === 'related'
    ? `beside ${against} it stands ${size} than its habit (tolerance ${tolerance}) ${since}, and which of them moved is open; compare with their grab samples`
    : `its cleanest water stands ${size} than its habit (tolerance ${tolerance}) ${since}, and nothing has been compared with it; a grab sample tells whether it is the water`
}
