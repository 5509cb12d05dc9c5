import { dueTick } from '../../../src/core/eventClock.js'
import type { PlantState } from '../../../src/core/plantState.js'
import { registerMessage } from '../../../src/core/registerInput.js'
import type { Measurement, SeriesPoint, SeriesTags } from '../../../src/core/series.js'
import { seriesWatch } from '../../../src/core/seriesWatch.js'
import { createPlantState, step } from '../../../src/core/step.js'
import type { PlantEvent } from '../../../src/model/events.js'
import type { RegisterFile } from '../../../src/model/register.js'
import type { Sent } from './stream.js'

export interface SeriesRun {
  readonly state: PlantState
  readonly events: readonly PlantEvent[]
  /** In the order they were made. */
  readonly all: readonly SeriesPoint[]
  /** As a database keeps them: of the same tags and time the last, with the fields of all. */
  readonly latest: ReadonlyMap<string, SeriesPoint>
}

export interface SeriesRunOptions {
  readonly register: RegisterFile
  readonly ticks: 'event' | 'recorded'
  /** Called after each input. */
  readonly between?: (state: PlantState, latest: SeriesRun['latest']) => void
}

/** Walks messages through the core with a watch that makes points. */
export function seriesRun(messages: readonly unknown[] | readonly Sent[], options: SeriesRunOptions): SeriesRun {
  const events: PlantEvent[] = []
  const all: SeriesPoint[] = []
  const latest = new Map<string, SeriesPoint>()
  const watch = seriesWatch(points => {
    for (const point of points) {
      all.push(point)
      const key = keyOf(point.measurement, point.tags, point.atMs)
      const before = latest.get(key)
      latest.set(key, before === undefined ? point : { ...point, fields: { ...before.fields, ...point.fields } })
    }
  })
  let state = createPlantState(options.register.plant)
  const take = (message: unknown) => {
    const stepped = step(state, { feed: 'file', message }, watch)
    state = stepped.state
    events.push(...stepped.events)
  }
  take(registerMessage(options.register))
  for (const given of messages) {
    take(isSent(given) ? given.message : given)
    if (options.ticks === 'event') {
      for (let due = dueTick(state); due !== undefined; due = dueTick(state)) take(due)
    }
    options.between?.(state, latest)
  }
  return { state, events, all, latest }
}

function isSent(given: unknown): given is Sent {
  return typeof given === 'object' && given !== null && 'comesMs' in given
}

export function keyOf(
  measurement: Measurement,
  tags: Readonly<Partial<Record<keyof SeriesTags, string | undefined>>>,
  atMs: number,
): string {
  const named = Object.entries(tags).flatMap(([name, value]) => (value === undefined ? [] : [`${name}=${value}`]))
  return `${measurement} ${named.sort().join(' ')} ${atMs}`
}
