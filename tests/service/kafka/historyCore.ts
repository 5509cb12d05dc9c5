import { canonicalJson } from '../../../src/model/canonicalJson.js'
import type { PlantEvent } from '../../../src/model/events.js'
import { contentHash, eventId } from '../../../src/model/identity.js'
import type { RecordedInput } from '../../../src/model/recordedInput.js'
import type { Core } from '../../../src/service/plantRunner.js'

export interface HistoryState {
  readonly plant: string
  readonly history: unknown[]
  digest: string
  events: number
  tick: string
  newest: string
}

const EVENT_EVERY = 3

/**
 * A plant that remembers every input it ever took, and whose every third input makes an event with a digest of all of
 * them: one input more, less, twice or in another place changes all events after it. Repeats are inputs like others.
 */
export const historyCore: Core<HistoryState> = {
  create: plant => ({ plant, history: [], digest: '', events: 0, tick: '', newest: '' }),
  step: (state, { message }: RecordedInput) => {
    const { kind, time } = message as { kind?: string; time?: string }
    state.history.push(message)
    state.digest = contentHash(state.digest + canonicalJson(message))
    if (kind === 'tick') state.tick = time!
    else if (time !== undefined && time > state.newest) state.newest = time
    const events = state.history.length % EVENT_EVERY === 0 ? [said(state)] : []
    if (kind !== 'rejected') return { state, events, outcome: { kind: 'accepted' } }
    return { state, events, outcome: { kind: 'rejected', faults: (message as { faults: [] }).faults } }
  },
  dueTick: state => {
    const minute = `${state.newest.slice(0, 16)}:00Z`
    return state.newest !== '' && minute > state.tick ? { kind: 'tick', time: minute } : undefined
  },
  // Two rows, of which one changes with every input.
  serialise: ({ plant, ...state }) =>
    new Map([
      ['plant', canonicalJson({ plant })],
      ['history', canonicalJson(state)],
    ]),
  restore: rows => ({
    ...(JSON.parse(rows.get('plant')!) as { plant: string }),
    ...(JSON.parse(rows.get('history')!) as Omit<HistoryState, 'plant'>),
  }),
}

function said(state: HistoryState): PlantEvent {
  state.events++
  return {
    id: eventId(state.plant, 'P-A', 'analyzer.finding', state.events),
    type: 'analyzer.finding',
    source: state.plant,
    subject: 'P/P-A',
    time: state.tick,
    data: { digest: state.digest },
  } as unknown as PlantEvent
}
