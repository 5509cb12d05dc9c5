import { decodeMessage } from '../model/decode.js'
import { addCount } from '../model/exclusionCounts.js'
import { type Fault, showValue } from '../model/faults.js'
import type { Message, Reading } from '../model/messages.js'
import type { RecordedInput, Rejected } from '../model/recordedInput.js'
import { parseInstant, SECOND_MS } from '../model/time.js'
import type { Exclusion } from '../model/vocabulary.js'
import { blockAt, FLAG } from '../qualify/blockLog.js'
import { isHeld } from '../qualify/heldValue.js'
import { addReading, blockEnd, openBlock } from '../qualify/openBlock.js'
import { advanceTo, REACH_MS } from './advance.js'
import { LONGEST_JUMP_MS, noteReadingTime } from './eventClock.js'
import { ACCEPTED, done, type Outcome, refuse, reject, REPEAT, type StepResult } from './outcome.js'
import { createPlantState, type PlantState } from './plantState.js'
import type { AnalyzerState } from './pointState.js'
import { takeRegister } from './registerInput.js'
import { takeCheck, takeFact, takeResponse } from './takeRecord.js'
import type { Watch } from './watch.js'

export { createPlantState }
export type { Outcome, StepResult }

/** A live reading this far ahead of its arrival is from the future. */
const FUTURE_MS = 300 * SECOND_MS

/**
 * The one function that moves a plant: a state and a recorded input give the next state and the events that follow.
 * No clock, no chance, no locale; the same inputs in the same order give the same events, byte for byte. The state
 * handed in is consumed: its memory is reused, so keep no reference to it.
 */
export function step(state: PlantState, input: RecordedInput, watch?: Watch): StepResult {
  state.counts.messages += 1
  const message = input.message as Rejected | undefined
  if (message?.kind === 'rejected') return reject(state, message.faults)
  const decoded = decodeMessage(input.message)
  if (!decoded.ok) return reject(state, decoded.faults)
  state.counts.ignoredFields += decoded.ignored.length
  return take(state, decoded.message, input, watch)
}

function take(state: PlantState, message: Message, input: RecordedInput, watch: Watch | undefined): StepResult {
  if (message.kind === 'register') {
    const faults = takeRegister(state, message)
    return faults.length > 0 ? reject(state, faults) : done(state, ACCEPTED)
  }
  if (state.register === null)
    return refuse(state, 'invalid_field', 'kind', message.kind, 'must come after the register')
  switch (message.kind) {
    case 'reading':
      return takeReading(state, message, input)
    case 'tick':
      if (state.plantMs > 0 && message.atMs > state.plantMs + LONGEST_JUMP_MS) {
        return refuse(state, 'invalid_field', 'tick.time', message.atMs, 'must be within 400 days of plant time')
      }
      state.feedsDown = message.feedsDown ?? []
      return { state, events: advanceTo(state, message.atMs, watch), outcome: ACCEPTED }
    case 'grab':
    case 'work':
    case 'process':
      return takeFact(state, message)
    case 'response':
      return takeResponse(state, message)
    case 'laboratory_check':
      return takeCheck(state, message)
  }
}

function takeReading(state: PlantState, reading: Reading, input: RecordedInput): StepResult {
  const analyzer = state.register?.plant.analyzers.get(reading.analyzer)
  const point = analyzer === undefined ? undefined : state.points.get(analyzer.point)
  const units = state.register?.plant.points.get(analyzer?.point ?? '')?.analyzers
  const own = point?.analyzers[units?.indexOf(reading.analyzer) ?? -1]
  if (analyzer === undefined || point === undefined || own === undefined)
    return unknownAnalyzer(state, reading.analyzer)
  own.feed = input.feed
  const end = blockEnd(reading.atMs)
  const against = timeAgainst(state, reading, input, end, own)
  if (against !== undefined) {
    addCount(own.excluded, against, 1)
    return done(state, { kind: 'excluded', reason: against })
  }
  let block = own.open.get(end)
  if (block === undefined) {
    block = openBlock(end)
    own.open.set(end, block)
  }
  if (!addReading(block, reading, analyzer)) {
    addCount(own.excluded, 'repeat', 1)
    state.counts.repeats += 1
    return done(state, REPEAT)
  }
  noteReadingTime(state, reading.atMs)
  return done(state, ACCEPTED)
}

function timeAgainst(
  state: PlantState,
  reading: Reading,
  input: RecordedInput,
  end: number,
  own: AnalyzerState,
): Exclusion | undefined {
  const receivedMs = input.receivedAt === undefined ? undefined : parseInstant(input.receivedAt)
  if (receivedMs !== undefined && reading.atMs > receivedMs + FUTURE_MS) return 'from_future'
  if (state.plantMs > 0 && reading.atMs < state.plantMs - REACH_MS) return 'too_old'
  if (end > state.workedMs) return undefined
  const closed = blockAt(own.log, end)
  if (closed !== undefined && closed.flags !== FLAG.feedDown && !isHeld(closed)) return 'late'
  return end < state.startedMs ? 'late' : undefined
}

const UNKNOWN_MOST = 1_000

/** Counted in a bounded table and told once for each name. */
function unknownAnalyzer(state: PlantState, analyzer: string): StepResult {
  const { unknownAnalyzers } = state.counts
  const seen = unknownAnalyzers.get(analyzer)
  if (seen === undefined && unknownAnalyzers.size >= UNKNOWN_MOST) {
    state.counts.unknownOverflow += 1
    state.counts.rejected += 1
    return done(state, { kind: 'rejected', faults: [unknownFault(analyzer)] })
  }
  unknownAnalyzers.set(analyzer, (seen ?? 0) + 1)
  if (seen === undefined) return reject(state, [unknownFault(analyzer)])
  state.counts.rejected += 1
  return done(state, { kind: 'rejected', faults: [unknownFault(analyzer)] })
}

function unknownFault(analyzer: string): Fault {
  return {
    code: 'unknown_analyzer',
    field: 'reading.analyzer',
    value: showValue(analyzer),
    rule: 'must be an analyzer of the register',
  }
}
