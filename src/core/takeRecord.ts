import { canonicalJson } from '../model/canonicalJson.js'
import { addCount } from '../model/exclusionCounts.js'
import type { Grab, LaboratoryCheck, ProcessState, Response, Work } from '../model/messages.js'
import { DAY_MS, formatInstant } from '../model/time.js'
import { BLOCK_MS } from '../qualify/openBlock.js'
import { REACH_MS, requestRebuild } from './advance.js'
import { type Fact, factOf, fromBeforeRecord, hashOfFact, identityOf, insertFact } from './facts.js'
import { ACCEPTED, done, refuse, reject, REPEAT, type StepResult } from './outcome.js'
import type { PlantState } from './plantState.js'
import type { PointState } from './pointState.js'

/** Records may run ahead of plant time by a day at most: clocks of people and of plants differ, calendars do not. */
const FUTURE_RULE = 'must not lie more than a day after plant time'

function isFromFuture(state: PlantState, atMs: number): boolean {
  return state.plantMs > 0 && atMs > state.plantMs + DAY_MS
}

/** Takes a grab sample, work or process state: at its own time, late or not, once. */
export function takeFact(state: PlantState, message: Grab | Work | ProcessState): StepResult {
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
  const nextMs = state.workedMs + BLOCK_MS
  const inReach: Fact =
    fact.dueMs > reachMs ? fromBeforeRecord(fact, state.startedMs) : { ...fact, dueMs: nextMs, old: true }
  const isLate = fact.dueMs <= state.workedMs
  insertFact(point.facts, isLate ? { ...inReach, takenMs: nextMs } : inReach)
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
  return reject(state, [
    {
      code: 'conflict',
      field: identity,
      value: `other content${differing(fact, other)}`,
      rule: 'the record is known already; a correction must say what it corrects',
    },
  ])
}

/** Names of what two records of one identity do not agree in, the same whichever came first. */
function differing(fact: Fact, other: Fact | undefined): string {
  if (other === undefined) return ''
  const [a, b] = [fact.message, other.message].map(message => new Map(Object.entries(message)))
  const names = [...new Set([...a!.keys(), ...b!.keys()])].filter(
    name => canonicalJson(a!.get(name) ?? null) !== canonicalJson(b!.get(name) ?? null),
  )
  return ` (${names.sort().join(', ')})`
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
export function takeCheck(
  state: PlantState,
  { atMs, laboratoryInstrument, reference, asFound }: LaboratoryCheck,
): StepResult {
  if (isFromFuture(state, atMs))
    return refuse(state, 'invalid_field', 'laboratory_check.time', formatInstant(atMs), FUTURE_RULE)
  const { checks } = state.laboratory
  const known = checks.find(
    one => one.atMs === atMs && one.laboratoryInstrument === laboratoryInstrument && one.reference === reference,
  )
  if (known !== undefined && known.asFound !== asFound) {
    const rule = `is known as ${String(known.asFound)} for this instrument, time and standard; the lower one is shown`
    // The order in which two typists send theirs must not decide.
    if (asFound < known.asFound)
      state.laboratory.checks = checks.map(one => (one === known ? { ...one, asFound } : one))
    return refuse(state, 'conflict', 'laboratory_check.asFound', asFound, rule)
  }
  if (known !== undefined) {
    state.counts.repeats += 1
    return done(state, REPEAT)
  }
  state.laboratory.checks = [...checks, { atMs, laboratoryInstrument, reference, asFound }]
    .sort((a, b) => a.atMs - b.atMs || (a.laboratoryInstrument < b.laboratoryInstrument ? -1 : 1))
    .slice(-KEPT_CHECKS)
  return done(state, ACCEPTED)
}

const KEPT_CHECKS = 20

/** Takes an answer to an open recommendation; it counts with the block of its time. */
export function takeResponse(state: PlantState, response: Response): StepResult {
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
