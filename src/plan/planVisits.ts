import type { PlantState } from '../core/plantState.js'
import type { Plant } from '../model/plant.js'
import { DAY_MS, formatInstant } from '../model/time.js'
import { CAUTIONS } from '../recommend/cautions.js'
import type { Due, Moment } from './dueDates.js'
import { inPlan, lookAt, type Looked } from './looked.js'
import { leaveSentence, notProvenSentence, sayLocalDay } from './sentences.js'
import type { LeftAlone, NotProven, PlannedRequest, Proof, Visit, VisitPlan } from './visitPlan.js'
import { visitsOf } from './visits.js'

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
