import type { WorkAction } from '../model/messages.js'
import { DAY_MS, sayDay } from '../model/time.js'
import { listWords } from '../recommend/summary.js'
import type { PointContext } from './context.js'
import type { PointState } from './pointState.js'

/** Work after which units may share an error: what they were set on was the same. */
const DONE: Partial<Record<WorkAction, string>> = {
  zero: 'zeroed',
  span: 'spanned',
  calibrated_primary: 'calibrated',
}

/** The newest adjustment that all units of a point had within a day: a cause they may have in common. */
export function commonWork({ point }: PointContext, { fold }: PointState): string | null {
  const [first, ...others] = fold.units
  if (first === undefined || others.length === 0) return null
  const shared = first.works.findLast(
    ({ action, atMs }) =>
      DONE[action] !== undefined &&
      others.every(({ works }) => works.some(other => other.action === action && Math.abs(other.atMs - atMs) < DAY_MS)),
  )
  if (shared === undefined) return null
  const both = point.analyzers.length === 2 ? 'both' : 'all'
  return `${listWords(point.analyzers)} were ${both} ${DONE[shared.action] ?? ''} on ${sayDay(shared.atMs)}: what they were set on may be wrong for all of them`
}
