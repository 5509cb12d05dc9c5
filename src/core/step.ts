import { decodeMessage } from '../model/decode.js'
import type { PlantEvent } from '../model/events.js'
import { addCount } from '../model/exclusionCounts.js'
import { type Fault, type FaultCode, sayFault, showValue } from '../model/faults.js'
import type { Grab, LaboratoryCheck, Message, ProcessState, Reading, Response, Work } from '../model/messages.js'
import { type RecordedInput, type Rejected } from '../model/recordedInput.js'
import { DAY_MS, formatInstant, HOUR_MS, parseInstant, SECOND_MS } from '../model/time.js'
import type { Exclusion } from '../model/vocabulary.js'
import { blockAt, FLAG } from '../qualify/blockLog.js'
import { addReading, BLOCK_MS, blockEnd, openBlock } from '../qualify/openBlock.js'
import { advanceTo, REACH_MS, requestRebuild } from './advance.js'
import { emit } from './emit.js'
import { noteReadingTime } from './eventClock.js'
import { type Fact, factOf, hashOfFact, identityOf, insertFact } from './facts.js'
import { createPlantState, type PlantState } from './plantState.js'
import type { AnalyzerState, PointState } from './pointState.js'
import { takeRegister } from './registerInput.js'

export { createPlantState }

export type Outcome =
  | { readonly kind: 'accepted' }
  | { readonly kind: 'repeat' }
  | { readonly kind: 'excluded'; readonly reason: Exclusion }
  | { readonly kind: 'rejected'; readonly faults: readonly Fault[] }

export interface StepResult {
  readonly state: PlantState
  readonly events: readonly PlantEvent[]
  readonly outcome: Outcome
}

const ACCEPTED: Outcome = { kind: 'accepted' }
const REPEAT: Outcome = { kind: 'repeat' }
const NO_EVENTS: readonly PlantEvent[] = []
/** A live reading this far ahead of its arrival is from the future. */
const FUTURE_MS = 300 * SECOND_MS
/** Records may run ahead of plant time by a day at most: clocks of people and of plants differ, calendars do not. */
const FUTURE_RULE = 'must not lie more than a day after plant time'

function isFromFuture(state: PlantState, atMs: number): boolean {
  return state.plantMs > 0 && atMs > state.plantMs + DAY_MS
}

/** A tick may not jump further: a wrong clock would otherwise work through years. */
const LONGEST_JUMP_MS = 400 * DAY_MS

/**
 * The one function that moves a plant: a state and a recorded input give the next state and the events that follow.
 * No clock, no chance, no locale; the same inputs in the same order give the same events, byte for byte. The state
 * handed in is consumed: its memory is reused, so keep no reference to it.
 */
export function step(state: PlantState, input: RecordedInput): StepResult {
  state.counts.messages += 1
  const message = input.message as Rejected | undefined
  if (message?.kind === 'rejected') return reject(state, message.faults)
  const decoded = decodeMessage(input.message)
  if (!decoded.ok) return reject(state, decoded.faults)
  state.counts.ignoredFields += decoded.ignored.length
  return take(state, decoded.message, input)
}

function take(state: PlantState, message: Message, input: RecordedInput): StepResult {
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
      return { state, events: advanceTo(state, message.atMs), outcome: ACCEPTED }
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
  own.readings += 1
  own.feed = input.feed
  const end = blockEnd(reading.atMs)
  const against = timeAgainst(state, reading, input, end, own)
  if (against !== undefined) {
    own.excluded[against] = (own.excluded[against] ?? 0) + 1
    return done(state, { kind: 'excluded', reason: against })
  }
  let block = own.open.get(end)
  if (block === undefined) {
    block = openBlock(end)
    own.open.set(end, block)
  }
  if (!addReading(block, reading, analyzer)) {
    own.excluded.repeat = (own.excluded.repeat ?? 0) + 1
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
  if (closed !== undefined && closed.flags !== FLAG.feedDown) return 'late'
  return end < state.startedMs ? 'late' : undefined
}

function takeFact(state: PlantState, message: Grab | Work | ProcessState): StepResult {
  const plant = state.register?.plant
  const pointId = message.kind === 'work' ? plant?.analyzers.get(message.analyzer)?.point : message.point
  const registered = plant?.points.get(pointId ?? '')
  const point = state.points.get(pointId ?? '')
  if (plant === undefined || registered === undefined || point === undefined) {
    return message.kind === 'work'
      ? refuse(state, 'unknown_analyzer', 'work.analyzer', message.analyzer, 'must be an analyzer of the register')
      : refuse(state, 'unknown_point', `${message.kind}.point`, message.point, 'must be a point of the register')
  }
  const identity = identityOf(message)
  const hash = hashOfFact(message)
  const atMs = message.kind === 'grab' ? message.sampledMs : message.atMs
  if (isFromFuture(state, atMs)) {
    return refuse(
      state,
      'invalid_field',
      `${message.kind}.${message.kind === 'grab' ? 'sampled' : 'time'}`,
      formatInstant(atMs),
      FUTURE_RULE,
    )
  }
  const known = state.identities.get(identity) ?? { hashes: [], corrected: false, atMs }
  const corrects = message.kind === 'process' ? undefined : message.corrects
  const isKnown = known.hashes.includes(hash)
  if (isKnown || (known.corrected && corrects === undefined)) {
    // The version a correction has overtaken is a repeat of what is no longer true.
    if (!isKnown) known.hashes.push(hash)
    state.counts.repeats += 1
    return done(state, REPEAT)
  }
  if (known.hashes.length > 0 && corrects === undefined)
    return takeConflict(state, point, factOf(message, registered, plant), identity)
  known.hashes.push(hash)
  state.identities.set(identity, known)
  if (corrects !== undefined) removeCorrected(state, message, corrects, atMs)
  const fact = factOf(message, registered, plant)
  const reachMs = state.workedMs - REACH_MS
  if (fact.dueMs <= reachMs && isState(message)) {
    // What state something was in a fortnight ago says nothing of now.
    addCount(point.excluded, 'too_old', 1)
    return done(state, { kind: 'excluded', reason: 'too_old' })
  }
  const inReach: Fact = fact.dueMs > reachMs ? fact : { ...fact, dueMs: state.workedMs + BLOCK_MS, old: true }
  insertFact(point.facts, inReach)
  if (inReach.dueMs <= state.workedMs) requestRebuild(state, point.id, inReach.dueMs)
  return done(state, ACCEPTED)
}

function isState(message: Grab | Work | ProcessState): boolean {
  return message.kind === 'process' || (message.kind === 'work' && message.action.startsWith('maintenance'))
}

/**
 * Two contents for one record: the first in canonical order counts, as long as its time has not come yet, whichever
 * came first. The other is refused.
 */
function takeConflict(state: PlantState, point: PointState, fact: Fact, identity: string): StepResult {
  const at = point.facts.findIndex(one => identityOf(one.message) === identity)
  const other = point.facts[at]
  if (other !== undefined && other.dueMs > state.workedMs && fact.dueMs > state.workedMs && fact.order < other.order) {
    point.facts.splice(at, 1)
    insertFact(point.facts, fact)
  }
  return refuse(
    state,
    'conflict',
    identity,
    identity,
    'is known with other content: a correction must say what it corrects',
  )
}

/** Takes out what a correction corrects, now or when it comes; the point is rebuilt from there. */
function removeCorrected(state: PlantState, message: Grab | Work | ProcessState, corrects: string, atMs: number): void {
  const identity = `${message.kind} ${corrects}`
  const target = state.identities.get(identity) ?? { hashes: [], corrected: false, atMs }
  target.corrected = true
  state.identities.set(identity, target)
  for (const point of state.points.values()) {
    const at = point.facts.findIndex(fact => fact.message !== message && identityOf(fact.message) === identity)
    const fact = point.facts[at]
    if (fact === undefined) continue
    point.facts.splice(at, 1)
    if (fact.dueMs <= state.workedMs) requestRebuild(state, point.id, fact.dueMs)
  }
}

/** Kept for the request about the laboratory, where it is shown; it ends none. */
function takeCheck(state: PlantState, { atMs, laboratoryInstrument, reference, asFound }: LaboratoryCheck): StepResult {
  const { checks } = state.laboratory
  const isKnown = checks.some(
    one => one.atMs === atMs && one.laboratoryInstrument === laboratoryInstrument && one.reference === reference,
  )
  if (isKnown) {
    state.counts.repeats += 1
    return done(state, REPEAT)
  }
  state.laboratory.checks = [...checks, { atMs, laboratoryInstrument, reference, asFound }]
    .sort((a, b) => a.atMs - b.atMs || (a.laboratoryInstrument < b.laboratoryInstrument ? -1 : 1))
    .slice(-KEPT_CHECKS)
  return done(state, ACCEPTED)
}

const KEPT_CHECKS = 20

function takeResponse(state: PlantState, response: Response): StepResult {
  const known = [...state.published.cases.values()].some(one => one.id === response.recommendation)
  if (!known)
    return refuse(
      state,
      'unknown_recommendation',
      'response.recommendation',
      response.recommendation,
      'must be an open recommendation',
    )
  if (isFromFuture(state, response.atMs)) {
    return refuse(state, 'invalid_field', 'response.time', formatInstant(response.atMs), FUTURE_RULE)
  }
  const identity = `response ${response.recommendation} ${String(response.atMs)} ${response.decision}`
  if (state.identities.has(identity)) {
    state.counts.repeats += 1
    return done(state, REPEAT)
  }
  state.identities.set(identity, { hashes: [], corrected: false, atMs: response.atMs })
  state.responses.push(response)
  return done(state, ACCEPTED)
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

function refuse(state: PlantState, code: FaultCode, field: string, value: unknown, rule: string): StepResult {
  return reject(state, [{ code, field, value: showValue(value), rule }])
}

/** Told at most so often in an hour of plant time; counted always. */
const TOLD_AN_HOUR = 50

function reject(state: PlantState, faults: readonly Fault[]): StepResult {
  state.counts.rejected += 1
  const outcome: Outcome = { kind: 'rejected', faults }
  const hourMs = Math.floor(state.plantMs / HOUR_MS) * HOUR_MS
  if (state.published.rejectedThisHour.hourMs !== hourMs) state.published.rejectedThisHour = { hourMs, count: 0 }
  state.published.rejectedThisHour.count += 1
  const [first] = faults
  if (first === undefined || state.published.rejectedThisHour.count > TOLD_AN_HOUR) return done(state, outcome)
  const more = faults.length > 1 ? ` (and ${String(faults.length - 1)} more)` : ''
  const event = emit(state, 'message.rejected', state.id, state.plantMs, {
    summary: `A message was rejected: ${sayFault(first)}${more}.`,
    notify: 'shift_summary',
    code: first.code,
    field: first.field,
    value: first.value,
    rule: first.rule,
  })
  return { state, events: [event], outcome }
}

function done(state: PlantState, outcome: Outcome): StepResult {
  return { state, events: NO_EVENTS, outcome }
}
