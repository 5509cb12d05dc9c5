import type { PointState } from '../core/pointState.js'
import { endOfDayAfter } from '../model/localCalendar.js'
import type { Plant } from '../model/plant.js'
import { DAY_MS, formatInstant, sayDay } from '../model/time.js'
import { URGENCIES } from '../model/vocabulary.js'
import { listWords } from '../recommend/summary.js'
import type { Due, Moment } from './dueDates.js'
import { inPlan, type Looked } from './looked.js'
import { sayWindow, visitSentence } from './sentences.js'
import { standardsToBring } from './standardsToBring.js'
import type { Job, Visit } from './visitPlan.js'
import { placeVisits, type Wanted, type Window, windowsFrom } from './windows.js'

/** What falls due within this after the first job of a visit is done with it. */
const TOGETHER_MS = 7 * DAY_MS

/** One visit to each analyzer that is due, by window, area, point and name. */
export function visitsOf(moment: Moment, due: readonly Looked[], endMs: number): Visit[] {
  const most = Math.max(0, ...[...moment.plant.points.values()].map(point => point.analyzers.length))
  // A week more than asked for, and two days for each unit, so that even what is overdue finds one.
  const windows = windowsFrom(moment.plant.timeZone, moment.nowMs, endMs + (7 + 2 * most) * DAY_MS)
  const byPoint = new Map<string, Looked[]>()
  for (const one of due) byPoint.set(one.point.id, [...(byPoint.get(one.point.id) ?? []), one])
  return [...byPoint.values()]
    .flatMap(units => {
      const placed = placeVisits(
        units.map(one => wanted(one, endMs)),
        windows,
      )
      return units.map(one => {
        const { window, late } = placed.get(one.analyzer)!
        return visit(moment, one, window, late, endMs)
      })
    })
    .sort((a, b) => (sortKey(a) < sortKey(b) ? -1 : 1))
}

function sortKey({ window, area = '', point, analyzer }: Visit): string {
  return [window.from, area, point, analyzer].join('\n')
}

function wanted(one: Looked, endMs: number): Wanted {
  const dues = inPlan(one, endMs)
  const urgency = URGENCIES.find(word => dues.some(due => due.urgency === word))
  return {
    analyzer: one.analyzer,
    byMs: Math.min(...dues.map(due => due.byMs)),
    when: urgency === 'now' || urgency === 'soon' ? urgency : 'by_date',
  }
}

function visit(moment: Moment, one: Looked, window: Window, late: boolean, endMs: number): Visit {
  const { plant, nowMs } = moment
  const dues = inPlan(one, endMs)
  const first = dues[0]!
  const together = Math.max(first.byMs, nowMs) + TOGETHER_MS
  const now = dues.filter(due => due.byMs <= together)
  const unit = one.state.fold.units[one.unit]!
  const works = now.map(due => due.work)
  const serial = unit.work.serial ?? plant.analyzers.get(one.analyzer)?.serial
  return {
    analyzer: one.analyzer,
    ...(serial === undefined ? {} : { serial }),
    point: one.point.id,
    ...(one.point.area === undefined ? {} : { area: one.point.area }),
    window: { from: formatInstant(window.fromMs), to: formatInstant(window.toMs) },
    by: formatInstant(first.byMs),
    late,
    minutes: plant.visitMinutes,
    jobs: now.map(jobOf),
    later: [...dues.filter(due => !now.includes(due)).map(jobOf), ...repeats(plant, now, window, endMs)],
    bring: standardsToBring(plant, one.analyzer, unit, works, window.toMs),
    meanwhile: meanwhile(one),
    ...(one.proof === undefined ? {} : { proof: one.proof }),
    summary: visitSentence(one.analyzer, first, one.proof, sayWindow(plant.timeZone, window), first.byMs < nowMs),
  }
}

function jobOf({ reason, work, byMs, text }: Due): Job {
  return { reason, work, by: formatInstant(byMs), text }
}

/** What the rule or the habit asks for again inside the days ahead, counted from this visit. */
function repeats(plant: Plant, dues: readonly Due[], window: Window, endMs: number): Job[] {
  return dues.flatMap(({ reason, work, everyDays }): Job[] => {
    if (everyDays === undefined) return []
    const byMs = endOfDayAfter(plant.timeZone, window.toMs, everyDays)
    if (byMs > endMs) return []
    const times = Math.floor((endMs - byMs) / (everyDays * DAY_MS)) + 1
    const often = times === 1 ? 'once' : `${String(times)} times`
    const text = `${work} by ${reason} ${often} more, every ${String(everyDays)} days, first by ${sayDay(byMs - 1)}`
    return [{ reason, work, by: formatInstant(byMs), text }]
  })
}

/** One unit of a point stays in service while another is out; where none counts, somebody samples. */
function meanwhile({ analyzer, point, state }: Looked): string {
  const others = point.analyzers.filter((id, i) => id !== analyzer && counts(state, i))
  if (others.length > 0) return `${listWords(others)} ${others.length === 1 ? 'stays' : 'stay'} in service`
  const sampling = point.regulated || point.controlling ? ': sample by hand meanwhile as site procedure says' : ''
  return `no other unit counts at ${point.id}${sampling}`
}

function counts({ fold }: PointState, i: number): boolean {
  const against = fold.units[i]?.against
  return against === null || against === 'not_in_service' || against === 'not_in_service_inferred'
}
