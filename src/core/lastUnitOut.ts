import type { Work } from '../model/messages.js'
import { formatInstant, HOUR_MS, sayInstant } from '../model/time.js'
import { sayNtu } from '../recommend/summary.js'
import type { PointContext } from './context.js'
import { sayUnusable } from './noUsableUnit.js'
import type { PointState } from './pointState.js'

/** Units that gave nothing usable for this long do not stand in for the one that is taken out. */
const USABLE_MS = HOUR_MS

/** Tells, once a visit, that the only unit of a redundant point that still could be used was taken out for work. */
export function noteLastUnitOut(context: PointContext, state: PointState, i: number, work: Work): void {
  const { units } = state.fold
  const analyzer = context.analyzers[i]
  const unit = units[i]
  const visit = unit?.work.visit
  if (analyzer === undefined || unit === undefined || units.length < 2 || visit == null || visit.actions.length > 1)
    return
  const isUsable = (lastMs: number | null): boolean => lastMs !== null && work.atMs - lastMs <= USABLE_MS
  const others = units.filter((_, other) => other !== i)
  if (!isUsable(unit.lastUsableMs) || others.some(other => other.against === null || isUsable(other.lastUsableMs)))
    return
  if (others.every(other => other.lastUsableMs === null)) return
  const { id } = context.point
  const lacking = context.analyzers
    .flatMap((other, k) => (k === i ? [] : [`${other.id} ${sayUnusable(units[k]?.against ?? null)}`]))
    .join(', ')
  state.fold.notes.push({
    key: `last unit ${analyzer.id} ${String(visit.fromMs)}`,
    atMs: work.atMs,
    type: 'reference.suspect',
    data: {
      summary: `${analyzer.id} was taken out on ${sayInstant(work.atMs)} at ${sayNtu(unit.levelNtu ?? 0)} NTU as the only usable unit of ${id}; ${lacking}: sample by hand as the local rule requires until a unit is back.`,
      notify: 'shift_summary',
      reference: 'work_record',
      analyzer: analyzer.id,
      point: id,
      at: formatInstant(work.atMs),
      because: [`No other unit of ${id} gives a usable reading: ${lacking}.`],
      ask: 'sample by hand as the local rule requires, and bring another unit back before the next work of this kind',
    },
  })
}
