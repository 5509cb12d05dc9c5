import type { PlantEvent } from '../../src/model/events.js'
import { eventId } from '../../src/model/identity.js'
import type { RegisterMessage } from '../../src/model/messages.js'
import type { RecordedInput } from '../../src/model/recordedInput.js'
import type { RegisterFile } from '../../src/model/register.js'
import { contentHash } from '../../src/model/identity.js'
import { canonicalJson } from '../../src/model/canonicalJson.js'
import type { Core } from '../../src/service/plantRunner.js'

/** Just enough of a plant to test what surrounds it: knows repeats, sums readings, says something at each tick. */
export interface FakeState {
  plant: string
  seen: Record<string, number>
  sum: number
  tick: string
  newest: string
  events: number
}

export const fakeCore: Core<FakeState> = {
  create: plant => ({ plant, seen: {}, sum: 0, tick: '', newest: '', events: 0 }),
  step: (state, input) => {
    const message = input.message as { kind?: string; analyzer?: string; time?: string; value?: number }
    if (message.kind === 'crash') throw new Error('a bug of the core')
    if (message.kind === 'tick') {
      state.tick = message.time!
      return { state, events: [said(state)], outcome: { kind: 'accepted' } }
    }
    if (message.kind === 'register') return { state, events: [], outcome: { kind: 'accepted' } }
    if (message.kind !== 'reading' || typeof message.value !== 'number') {
      const fault = { code: 'unknown_kind', field: 'kind', value: '', rule: 'must be known' } as const
      return { state, events: [], outcome: { kind: 'rejected', faults: [fault] } }
    }
    const key = `${message.analyzer!} ${message.time!}`
    if (state.seen[key] !== undefined) return { state, events: [], outcome: { kind: 'repeat' } }
    state.seen[key] = message.value
    state.sum += message.value
    if (message.time! > state.newest) state.newest = message.time!
    return { state, events: [], outcome: { kind: 'accepted' } }
  },
  dueTick: state => {
    const minute = `${state.newest.slice(0, 16)}:00Z`
    return state.newest !== '' && minute > state.tick ? { kind: 'tick', time: minute } : undefined
  },
  serialise: state => new Map([['plant', canonicalJson(state)]]),
  restore: rows => JSON.parse(rows.get('plant')!) as FakeState,
}

export function fakeRegisterMessage(file: RegisterFile, before: RegisterFile | undefined): RegisterMessage {
  const changed = before === undefined ? ['all'] : ['some']
  return { kind: 'register', hash: contentHash(canonicalJson(file)), changed, body: file }
}

function said(state: FakeState): PlantEvent {
  state.events++
  return {
    id: eventId(state.plant, 'P-A', 'analyzer.finding', state.events),
    type: 'analyzer.finding',
    source: state.plant,
    subject: 'P/P-A',
    time: state.tick,
    data: { sum: state.sum },
  } as unknown as PlantEvent
}

/** Readings of one analyzer, a quarter of a minute apart. */
export function reading(n: number): string {
  const time = new Date(Date.UTC(2026, 3, 1) + n * 15_000).toISOString()
  return JSON.stringify({ kind: 'reading', analyzer: 'P-A', time, value: n, unit: 'NTU' })
}

export function recorded(n: number): RecordedInput {
  return { feed: 'in', message: JSON.parse(reading(n)) as unknown }
}
