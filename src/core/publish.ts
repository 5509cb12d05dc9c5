import type { PlantEvent } from '../model/events.js'
import type { Plant } from '../model/plant.js'
import { DAY_MS, HOUR_MS } from '../model/time.js'
import { pointContext } from './context.js'
import { criteriaData, criteriaKey } from './criteriaData.js'
import { emit } from './emit.js'
import type { Note } from './notes.js'
import type { PlantState } from './plantState.js'
import { publishCase } from './publishCase.js'
import { publishFeeds, publishFindings } from './publishFindings.js'
import { publishShift } from './publishShift.js'
import { publishSilence } from './publishSilence.js'
import { publishSights } from './sights/publishSights.js'
import { standingOf, statusData } from './statusData.js'

/** Published keys are remembered longer than any rebuild reaches back. */
const REMEMBER_MS = 40 * DAY_MS

/**
 * Compares what the fold says with what the world was told and makes the events that are missing. Runs once at the
 * end of each instant, after rebuilds; nothing published is ever unsaid.
 * @param endMs end of the block just worked through; plant time of the events is that plus the lateness allowed
 */
export function publish(state: PlantState, plant: Plant, endMs: number): PlantEvent[] {
  const nowMs = endMs + plant.latenessMs
  const events: PlantEvent[] = [...publishShift(state, plant, nowMs), ...publishFeeds(state, plant, nowMs)]
  const silence = publishSilence(state, plant, nowMs)
  events.push(...silence.events)
  for (const point of state.points.values()) {
    const registered = plant.points.get(point.id)
    if (registered === undefined) continue
    events.push(
      ...publishNotes(state, point.fold.notes, nowMs),
      ...publishFindings(state, plant, point, silence.hushed, nowMs),
    )
    registered.analyzers.forEach((id, i) => {
      const unit = point.fold.units[i]
      const isHushed = silence.hushed.has(id) && unit?.case?.finding === 'silent' && !state.published.cases.has(id)
      if (unit !== undefined && !isHushed) events.push(...publishCase(state, plant, id, unit.case, unit.ended, nowMs))
    })
    events.push(...publishCase(state, plant, `point:${point.id}`, point.fold.pointCase, point.fold.pointEnded, nowMs))
    point.fold.notes = []
  }
  events.push(...publishNotes(state, state.laboratory.notes, nowMs), ...publishLaboratory(state, plant, nowMs))
  events.push(...publishGone(state, plant, nowMs))
  events.push(...publishNotes(state, state.sights.notes, nowMs), ...publishSights(state, plant, nowMs))
  state.laboratory.notes = []
  state.sights.notes = []
  if (endMs % DAY_MS === 0) forgetNotes(state, nowMs)
  events.push(...publishStatuses(state, plant, endMs, nowMs))
  return events
}

function forgetNotes({ published }: PlantState, nowMs: number): void {
  for (const [key, atMs] of published.notes) if (atMs < nowMs - REMEMBER_MS) published.notes.delete(key)
}

function publishNotes(state: PlantState, notes: readonly Note[], nowMs: number): PlantEvent[] {
  const events: PlantEvent[] = []
  for (const note of notes) {
    if (state.published.notes.has(note.key)) continue
    state.published.notes.set(note.key, nowMs)
    if (note.type === 'reference.suspect') {
      const subject = note.data.analyzer ?? note.data.point ?? note.data.laboratoryInstrument ?? 'laboratory'
      events.push(emit(state, note.type, subject, nowMs, note.data))
    } else {
      const open = state.published.cases.get(note.data.analyzer)
      events.push(
        emit(state, note.type, note.data.analyzer, nowMs, {
          ...note.data,
          ...(open === undefined ? {} : { recommendation: open.id }),
        }),
      )
    }
  }
  return events
}

function publishLaboratory(state: PlantState, plant: Plant, nowMs: number): PlantEvent[] {
  const open = state.laboratory.case
  const known = [...state.published.cases.keys()].filter(target => target.startsWith('laboratory:')).sort()
  const target = open === null ? undefined : `laboratory:${open.target.laboratoryInstrument ?? 'all'}`
  const gone = known.filter(one => one !== target)
  return [
    ...gone.flatMap(one => publishCase(state, plant, one, null, state.laboratory.ended, nowMs)),
    ...(target === undefined ? [] : publishCase(state, plant, target, open, null, nowMs)),
  ]
}

/** What the register no longer knows: its requests are withdrawn, its findings and status forgotten. */
function publishGone(state: PlantState, plant: Plant, nowMs: number): PlantEvent[] {
  const { cases, findings, statuses } = state.published
  const isGone = (analyzer: string | null | undefined, point: string | null | undefined): boolean =>
    (analyzer != null && !plant.analyzers.has(analyzer)) || (point != null && !plant.points.has(point))
  for (const [key, one] of findings) if (isGone(one.analyzer, one.point)) findings.delete(key)
  for (const id of statuses.keys()) if (isGone(id, null)) statuses.delete(id)
  const gone = [...cases.values()].filter(({ data }) => isGone(data.target.analyzer, data.target.point))
  const ended = { atMs: nowMs, how: 'withdrawn', reason: 'it is no longer in the register' } as const
  return gone.flatMap(({ target }) => publishCase(state, plant, target, null, ended, nowMs))
}

/** On change and at least hourly. */
function publishStatuses(state: PlantState, plant: Plant, endMs: number, nowMs: number): PlantEvent[] {
  const events: PlantEvent[] = []
  for (const point of state.points.values()) {
    const registered = plant.points.get(point.id)
    if (registered === undefined) continue
    const context = pointContext(plant, registered, state.laboratory.intervals)
    registered.analyzers.forEach((id, i) => {
      const before = state.published.statuses.get(id)
      const standing = standingOf(context, point, i, endMs)
      const key = `${standing.assessment} ${standing.findings.join(',')} ${standing.missing.join(';')}${criteriaKey(point, i)}`
      if (before?.key === key && endMs % HOUR_MS !== 0) return
      const sinceMs = before?.data.assessment === standing.assessment ? before.sinceMs : nowMs
      const criteria = criteriaData(context, point, i, nowMs)
      const data = {
        ...statusData(context, point, i, standing, sinceMs, endMs),
        ...(criteria.length === 0 ? {} : { criteria }),
      }
      state.published.statuses.set(id, { key, atMs: nowMs, sinceMs, data })
      events.push(emit(state, 'analyzer.status', id, nowMs, data))
    })
  }
  return events
}
