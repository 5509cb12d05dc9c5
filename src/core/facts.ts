import { pairDueMs } from '../compare/grab.js'
import { canonicalJson } from '../model/canonicalJson.js'
import { contentHash } from '../model/identity.js'
import type { Grab, ProcessState, Work } from '../model/messages.js'
import type { Plant, Point } from '../model/plant.js'
import { blockEnd } from '../qualify/openBlock.js'

/** A message that counts at a time of its own: kept for the reach of late facts, so that a rebuild sees it again. */
export interface Fact {
  /** End of the block with which it is taken. */
  readonly dueMs: number
  /** Canonical order inside a block: by time, then kind, then content. */
  readonly order: string
  /** From before the record or the reach of a rebuild: noted in the record, no longer taken as something that happens now. */
  readonly old?: true
  /** End of the block worked through when it came in, where that was later than its own: it came late. */
  readonly takenMs?: number
  readonly message: Grab | Work | ProcessState
}

export function factOf(message: Grab | Work | ProcessState, point: Point, plant: Plant): Fact {
  const atMs = message.kind === 'grab' ? message.sampledMs : message.atMs
  const dueMs =
    message.kind === 'grab'
      ? pairDueMs(
          point.analyzers.flatMap(id => plant.analyzers.get(id) ?? []),
          message.sampledAlsoMs ?? message.sampledMs,
        )
      : blockEnd(message.atMs)
  return { dueMs, order: `${String(atMs).padStart(16, '0')} ${message.kind} ${canonicalJson(message)}`, message }
}

/** Work from before the record stands in it from the first block on: dates required by rule count from such work. */
export function fromBeforeRecord(fact: Fact, startedMs: number): Fact {
  return fact.message.kind === 'work' && fact.dueMs < startedMs ? { ...fact, dueMs: startedMs, old: true } : fact
}

/** What makes two records the same record; the content then tells a repeat from a conflict. */
export function identityOf(message: Grab | Work | ProcessState): string {
  if (message.kind === 'grab')
    return `grab ${message.sampleId ?? `${message.point} ${String(message.sampledMs)} ${String(message.value)} ${message.unit}`}`
  if (message.kind === 'work')
    return `work ${message.id ?? `${message.analyzer} ${String(message.atMs)} ${message.action}`}`
  return `process ${message.point} ${String(message.atMs)}`
}

/** Reporting times do not make a record another one: a result handed in again is a repeat. */
export function hashOfFact(message: Grab | Work | ProcessState): string {
  const { reportedMs: _reported, ...content } = message as Grab
  return contentHash(canonicalJson(content))
}

/** Puts a fact in its place. */
export function insertFact(facts: Fact[], fact: Fact): void {
  let at = facts.length
  while (at > 0 && isAfter(facts[at - 1], fact)) at -= 1
  facts.splice(at, 0, fact)
}

function isAfter(one: Fact | undefined, other: Fact): boolean {
  return one !== undefined && (one.dueMs > other.dueMs || (one.dueMs === other.dueMs && one.order > other.order))
}

/** Facts taken with the block that ends at `endMs`, in order. */
export function factsDue(facts: readonly Fact[], endMs: number): readonly Fact[] {
  let low = 0
  let high = facts.length
  while (low < high) {
    const middle = (low + high) >> 1
    if (facts[middle]!.dueMs < endMs) low = middle + 1
    else high = middle
  }
  const due: Fact[] = []
  for (let i = low; i < facts.length && facts[i]?.dueMs === endMs; i++) due.push(facts[i]!)
  return due
}
