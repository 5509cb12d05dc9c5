import { pointContext } from '../core/context.js'
import type { PlantState } from '../core/plantState.js'
import type { PointState } from '../core/pointState.js'
import { endOfDayAfter } from '../model/localCalendar.js'
import type { Plant, Point } from '../model/plant.js'
import { DAY_MS, formatInstant, sayDay } from '../model/time.js'
import { URGENCIES } from '../model/vocabulary.js'
import { CAUTIONS } from '../recommend/cautions.js'
import { listWords } from '../recommend/summary.js'
import { type Due, dueByForecast, dueByHabit, dueByRequest, dueByRule, type Moment } from './dueDates.js'
import { proofOf } from './proof.js'
import { leaveSentence, notProvenSentence, sayLocalDay, sayWindow, visitSentence } from './sentences.js'
import { standardsToBring } from './standardsToBring.js'
import type { Job, LeftAlone, NotProven, PlannedRequest, Proof, Visit, VisitPlan } from './visitPlan.js'
import { placeVisits, type Wanted, type Window, windowsFrom } from './windows.js'

/** What falls due within this after the first job of a visit is done with it. */
const TOGETHER_MS = 7 * DAY_MS

/** One analyzer with everything that decides whether it is visited. */
interface Looked {
  readonly analyzer: string
  readonly point: Point
  readonly state: PointState
  readonly unit: number
  readonly proof: Proof | undefined
  /** By date; without habit where the evidence is good, for habit alone then sends nobody. */
  readonly dues: readonly Due[]
  readonly habit: Due | undefined
}

/**
 * The visits of the days ahead from what is known now: requests that are open, dates required by rule, forecasts, and
 * habit wherever no independent evidence speaks against it. Condition brings work forward and never moves it past a
 * date by rule; nobody is left alone without proof.
 */
export function planVisits(state: PlantState, days: number): VisitPlan {
  const plant = state.register?.plant
  if (plant === undefined) throw new RangeError('a plan needs a register')
  const moment: Moment = { plant, nowMs: state.plantMs, startedMs: state.startedMs }
  const endMs = moment.nowMs + days * DAY_MS
  const looked = [...plant.points.values()].flatMap(point => lookAt(state, moment, point))
  const due = looked.filter(one => inPlan(one, endMs).length > 0)
  const others = looked.filter(one => !due.includes(one))
  const visits = visitsOf(moment, due, endMs)
  const leaveAlone = others.flatMap(one =>
    one.proof === undefined ? [] : [leave(state, moment, one, one.proof, days)],
  )
  return {
    plant: state.id,
    timeZone: plant.timeZone,
    at: moment.nowMs === 0 ? null : formatInstant(moment.nowMs),
    days,
    visitMinutes: plant.visitMinutes,
    visits,
    leaveAlone,
    notProven: others.flatMap(one => (one.proof === undefined ? [notProven(state, one, days)] : [])),
    requests: requestsOf(state),
    cautions: CAUTIONS,
    byDay: byDay(plant, visits),
    savable: leaveAlone.filter(one => one.savable !== undefined).length,
  }
}

function lookAt(state: PlantState, moment: Moment, point: Point): Looked[] {
  const own = state.points.get(point.id)
  if (own === undefined) return []
  const context = pointContext(moment.plant, point, state.laboratory.intervals)
  return point.analyzers.map((analyzer, i) => {
    const unit = own.fold.units[i]!
    const proof = proofOf(context, own, i, state.published.statuses.get(analyzer)?.data)
    const requested = dueByRequest(state.published.cases.get(analyzer))
    const [habit] = dueByHabit(moment, point, unit)
    const dues = [
      ...requested,
      ...dueByRule(moment, point, unit),
      ...(requested.length > 0 ? [] : dueByForecast(moment, unit)),
      ...(proof === undefined && habit !== undefined ? [habit] : []),
    ]
    return { analyzer, point, state: own, unit: i, proof, dues: dues.sort((a, b) => a.byMs - b.byMs), habit }
  })
}

/** What falls into the days ahead; a request is never left out of them. */
function inPlan({ dues }: Looked, endMs: number): readonly Due[] {
  return dues.filter(one => one.byMs <= endMs || one.reason === 'request')
}

function visitsOf(moment: Moment, due: readonly Looked[], endMs: number): Visit[] {
  const most = Math.max(0, ...[...moment.plant.points.values()].map(point => point.analyzers.length))
  // A week more than asked for, and a day for each unit, so that even what is overdue finds windows.
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

function leave(state: PlantState, { plant, nowMs }: Moment, one: Looked, proof: Proof, days: number): LeftAlone {
  const { analyzer, point, habit } = one
  const rule = one.dues.find(due => due.reason === 'rule')
  const isOnRecord = one.state.fold.units[one.unit]?.dates.visit !== null
  const isFree = point.required === undefined && isOnRecord
  const savable = isFree && habit !== undefined && habit.byMs <= nowMs + days * DAY_MS ? habit : undefined
  const day = (due: Due): string => sayLocalDay(plant.timeZone, due.byMs - 1)
  const dates = {
    rule: rule === undefined ? undefined : day(rule),
    habit: savable === undefined ? undefined : `${savable.byMs < nowMs ? 'due since' : 'of'} ${day(savable)}`,
  }
  return {
    analyzer,
    point: point.id,
    ...(point.area === undefined ? {} : { area: point.area }),
    since: state.published.statuses.get(analyzer)?.data.since ?? formatInstant(nowMs),
    proof,
    ...(savable === undefined ? {} : { savable: formatInstant(savable.byMs) }),
    ...(rule === undefined ? {} : { nextByRule: formatInstant(rule.byMs) }),
    summary: leaveSentence(analyzer, proof, dates),
  }
}

function notProven(state: PlantState, { analyzer, point }: Looked, days: number): NotProven {
  const status = state.published.statuses.get(analyzer)?.data
  return {
    analyzer,
    point: point.id,
    ...(point.area === undefined ? {} : { area: point.area }),
    assessment: status?.assessment ?? 'not_assessed',
    missing: status?.missing ?? ['no block has been worked through yet'],
    summary: notProvenSentence(analyzer, status, days),
  }
}

function requestsOf(state: PlantState): PlannedRequest[] {
  return [...state.published.cases.values()]
    .filter(one => one.data.target.analyzer === undefined && one.phase === 'open' && one.answer !== 'rejected')
    .sort((a, b) => (a.target < b.target ? -1 : 1))
    .map(({ target, data: { action, urgency, respondBy, summary } }) => ({
      target,
      action,
      urgency,
      respondBy,
      summary,
    }))
}

function byDay(plant: Plant, visits: readonly Visit[]): VisitPlan['byDay'] {
  const days = new Map<string, number>()
  for (const { window } of visits) {
    const date = sayLocalDay(plant.timeZone, Date.parse(window.from))
    days.set(date, (days.get(date) ?? 0) + 1)
  }
  return [...days].map(([date, n]) => ({ date, visits: n, minutes: n * plant.visitMinutes }))
}
