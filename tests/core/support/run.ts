import { dueTick } from '../../../src/core/eventClock.js'
import { registerMessage } from '../../../src/core/registerInput.js'
import { createPlantState, type Outcome, step } from '../../../src/core/step.js'
import type { PlantState } from '../../../src/core/plantState.js'
import { canonicalJson } from '../../../src/model/canonicalJson.js'
import { toCloudEvent } from '../../../src/model/cloudEvent.js'
import type { PlantEvent } from '../../../src/model/events.js'
import type { RecordedInput } from '../../../src/model/recordedInput.js'
import type { RegisterFile } from '../../../src/model/register.js'
import { formatInstant, HOUR_MS, MINUTE_MS } from '../../../src/model/time.js'
import { inOrder, type Sent } from './stream.js'

export interface Run {
  readonly events: readonly PlantEvent[]
  readonly state: PlantState
  readonly outcomes: readonly Outcome[]
}

export interface RunOptions {
  readonly register: RegisterFile
  /** `event`: plant time follows the times in the messages; `recorded`: it follows the ticks among them. */
  readonly ticks: 'event' | 'recorded'
  /** Feed of a message; default `file`. */
  readonly feedOf?: (message: unknown) => string
  /** Called after each input but the ticks of event time; what it returns goes on. */
  readonly between?: (state: PlantState, index: number) => PlantState
}

/** Walks messages through the core as the service does, in the order given, the register first. */
export function run(messages: readonly unknown[], options: RunOptions): Run {
  const events: PlantEvent[] = []
  const outcomes: Outcome[] = []
  let state = createPlantState(options.register.plant)
  const take = (input: RecordedInput): Outcome => {
    const stepped = step(state, input)
    state = stepped.state
    events.push(...stepped.events)
    return stepped.outcome
  }
  take({ feed: 'service', message: registerMessage(options.register) })
  messages.forEach((message, i) => {
    outcomes.push(take({ feed: options.feedOf?.(message) ?? 'file', message }))
    state = options.between?.(state, i) ?? state
    if (options.ticks === 'recorded') return
    for (let due = dueTick(state); due !== undefined; due = dueTick(state)) take({ feed: 'clock', message: due })
  })
  return { events, state, outcomes }
}

/** Ticks from the first message to the full hour an hour after the last, merged in by the time of coming in. */
export function withTicks(sent: readonly Sent[], everyMs = MINUTE_MS, feedsDown?: (atMs: number) => string[]): Sent[] {
  const firstMs = Math.ceil((sent[0]?.comesMs ?? 0) / everyMs) * everyMs
  const lastMs = Math.ceil((sent.at(-1)?.comesMs ?? 0) / HOUR_MS + 1) * HOUR_MS
  const ticks: Sent[] = []
  for (let atMs = firstMs; atMs <= lastMs; atMs += everyMs) {
    const down = feedsDown?.(atMs) ?? []
    const message = { kind: 'tick', time: formatInstant(atMs), ...(down.length > 0 ? { feedsDown: down } : {}) }
    ticks.push({ atMs, comesMs: atMs, message })
  }
  return [...inOrder([...sent, ...ticks])]
}

export function messagesOf(sent: readonly Sent[]): readonly unknown[] {
  return sent.map(one => one.message)
}

/** Canonical text of one event a line. */
export function textOf(events: readonly PlantEvent[]): string {
  return events.map(event => `${lineOf(event)}\n`).join('')
}

export function lineOf(event: PlantEvent): string {
  return canonicalJson(toCloudEvent(event, 'turbidrift'))
}

/** What happened, one short line an event, for reading when a test fails. Statuses are left out. */
export function storyOf(events: readonly PlantEvent[]): string[] {
  return events
    .filter(event => event.type !== 'analyzer.status' && event.type !== 'shift.summary')
    .map(event => `${event.time} ${event.type} ${event.subject}${'phase' in event.data ? ` ${event.data.phase}` : ''}`)
}

export function ofType<T extends PlantEvent['type']>(
  events: readonly PlantEvent[],
  type: T,
): Extract<PlantEvent, { type: T }>[] {
  return events.filter((event): event is Extract<PlantEvent, { type: T }> => event.type === type)
}

/** Lines that stand in one set of events only, shortened; empty where the sets are equal. */
export function unlike(found: readonly string[], expected: readonly string[]): string[] {
  const [had, has] = [new Set(expected), new Set(found)]
  return [
    ...expected.filter(line => !has.has(line)).map(line => `missing ${briefly(line)}`),
    ...found.filter(line => !had.has(line)).map(line => `extra ${briefly(line)}`),
    ...(found.length === expected.length ? [] : [`${found.length} events, expected ${expected.length}`]),
  ].slice(0, 12)
}

function briefly(line: string): string {
  const { time, type, subject, data } = JSON.parse(line) as Record<string, unknown>
  return `${String(time)} ${String(type)} ${String(subject)} ${JSON.stringify(data).slice(0, 300)}`
}
