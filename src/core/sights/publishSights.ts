import type { FindingData, PlantEvent } from '../../model/events.js'
import type { Plant } from '../../model/plant.js'
import { formatInstant, sayInstant } from '../../model/time.js'
import { emit } from '../emit.js'
import type { PlantState } from '../plantState.js'
import { dipEndSentence, dipSentence, isSettledAgain, type PowerDip } from './powerDip.js'
import { type ProcessChange, TOLD_AFTER } from './processChange.js'
import { changeEndSentence, changeSentence } from './processSentence.js'

/** A finding about several points at once, as it stands now. */
interface Sighting {
  readonly key: string
  readonly subject: string
  readonly finding: 'power_dip' | 'process_change'
  readonly point: string | null
  readonly sinceMs: number
  /** Null while it lasts. */
  readonly untilMs: number | null
  /** A sentence; asked for only when it is told. */
  readonly began: () => string
  readonly ended: () => string
  readonly detail: FindingData['detail']
}

/** Tells the begin and the end of what is common to several points, once for all of them. */
export function publishSights(state: PlantState, plant: Plant, nowMs: number): PlantEvent[] {
  const { dips, processChanges } = state.sights
  const sightings = [
    ...dips.map(dip => ofDip(state, plant, dip, nowMs)),
    ...processChanges.filter(one => one.seen >= TOLD_AFTER).map(change => ofChange(state, change)),
  ]
  const events: PlantEvent[] = []
  const told = state.published.findings
  for (const sighting of sightings) {
    const { key, subject, finding, point, sinceMs, untilMs } = sighting
    const isTold = told.has(key)
    if (!isTold && untilMs === null && !state.published.notes.has(key)) {
      told.set(key, { finding, sinceMs, analyzer: null, point })
      state.published.notes.set(key, nowMs)
      events.push(emit(state, 'analyzer.finding', subject, nowMs, dataOf(sighting, 'began', nowMs)))
    } else if (isTold && untilMs !== null) {
      told.delete(key)
      events.push(emit(state, 'analyzer.finding', subject, nowMs, dataOf(sighting, 'ended', nowMs)))
    }
  }
  const keys = new Set(sightings.map(one => one.key))
  for (const [key, { finding, point, sinceMs }] of [...told].sort(([a], [b]) => (a < b ? -1 : 1))) {
    if ((finding !== 'power_dip' && finding !== 'process_change') || keys.has(key)) continue
    told.delete(key)
    events.push(emit(state, 'analyzer.finding', point ?? state.id, nowMs, goneData(finding, point, sinceMs, nowMs)))
  }
  return events
}

/** Readings that came late left nothing of it. */
function goneData(finding: Sighting['finding'], point: string | null, sinceMs: number, nowMs: number): FindingData {
  const what = finding === 'power_dip' ? 'a dip of the power' : 'a process change'
  const ended = `What looked like ${what} on ${sayInstant(sinceMs)} no longer does: readings of those hours came late.`
  const sighting = { finding, point, sinceMs, untilMs: null, began: () => ended, ended: () => ended, detail: {} }
  return dataOf(sighting, 'ended', nowMs)
}

function dataOf(sighting: Omit<Sighting, 'key' | 'subject'>, phase: 'began' | 'ended', nowMs: number): FindingData {
  return {
    summary: phase === 'began' ? sighting.began() : sighting.ended(),
    notify: 'shift_summary',
    ...(sighting.point === null ? {} : { point: sighting.point }),
    finding: sighting.finding,
    phase,
    since: formatInstant(sighting.sinceMs),
    ...(phase === 'ended' ? { until: formatInstant(sighting.untilMs ?? nowMs) } : {}),
    detail: sighting.detail,
  }
}

function ofDip(state: PlantState, plant: Plant, dip: PowerDip, nowMs: number): Sighting {
  return {
    key: `power_dip ${dip.area ?? ''} ${String(dip.blockMs)}`,
    subject: dip.area === null ? state.id : `area:${dip.area}`,
    finding: 'power_dip',
    point: null,
    sinceMs: dip.fromMs,
    untilMs: isSettledAgain(state, plant, dip) ? nowMs : null,
    began: () => dipSentence(dip),
    ended: () => dipEndSentence(dip),
    detail: { analyzers: dip.analyzers.join(', '), back: formatInstant(dip.backMs) },
  }
}

function ofChange(state: PlantState, change: ProcessChange): Sighting {
  return {
    key: `process_change ${change.alone ?? ''} ${String(change.direction)} ${String(change.beganMs)}`,
    subject: change.alone ?? state.id,
    finding: 'process_change',
    point: change.alone,
    sinceMs: change.fromMs,
    untilMs: change.untilMs,
    began: () => changeSentence(change),
    ended: () => changeEndSentence(change),
    detail: {
      points: change.points.map(one => one.point).join(', '),
      units: change.points.reduce((sum, one) => sum + one.units, 0),
      grabs: change.points.reduce((sum, one) => sum + one.grabs, 0),
    },
  }
}
