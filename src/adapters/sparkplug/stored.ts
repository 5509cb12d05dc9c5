import type { Held } from './held.js'
import { type Birth, type BornMetric, bornOf, DEAD, type Session } from './session.js'

/** What is known of the edge nodes of one feed, and what goes with the readings of each analyzer. */
export interface SparkplugState {
  readonly sessions: Map<string, Session>
  readonly held: Map<string, Held>
}

/**
 * Births are not kept by the broker, so a restart would leave every alias without a name. What is known is written
 * into rows of the store, in the transaction of the messages it came with: the list of edge nodes of a feed, for each
 * its session and its devices, for each device the metrics it was born with, for each analyzer what is held.
 */
export function changedRows(
  feed: string,
  node: string,
  before: Session | undefined,
  after: Session,
  nodes: Iterable<string>,
): Map<string, string> {
  const rows = new Map<string, string>()
  if (after === before) return rows
  if (before === undefined) rows.set(keyOf(feed), JSON.stringify([...nodes]))
  rows.set(keyOf(feed, 'session', node), JSON.stringify(storedSession(after)))
  // With most messages the number is all that changes.
  if (after.births === before?.births) return rows
  rows.set(keyOf(feed, 'devices', node), JSON.stringify([...after.births].map(storedDevice)))
  for (const [device, { metrics }] of after.births) {
    if (before?.births.get(device)?.metrics === metrics) continue
    rows.set(keyOf(feed, 'births', node, device), JSON.stringify(metrics.map(storedMetric)))
  }
  for (const device of before?.births.keys() ?? []) {
    if (!after.births.has(device)) rows.set(keyOf(feed, 'births', node, device), '[]')
  }
  return rows
}

export function heldRow(feed: string, analyzer: string, held: Held): readonly [string, string] {
  return [keyOf(feed, 'held', analyzer), JSON.stringify(held)]
}

/** @param row reads a row of the store */
export function restoreState(
  feed: string,
  analyzers: Iterable<string>,
  row: (key: string) => string | undefined,
): SparkplugState {
  const read = (...parts: string[]): unknown => {
    const text = row(keyOf(feed, ...parts))
    return text === undefined ? undefined : JSON.parse(text)
  }
  const sessions = new Map<string, Session>()
  for (const node of (read() ?? []) as string[]) {
    const stored = read('session', node) as StoredSession | undefined
    if (stored === undefined) continue
    const devices = (read('devices', node) ?? []) as StoredDevice[]
    const births = devices.map(([device, dead, sure]) => {
      const metrics = (read('births', node, device) ?? []) as StoredMetric[]
      return [device, dead ? { ...DEAD, sure } : bornOf(metrics.map(toMetric), sure)] as const
    })
    const { life, bdSeq, seq } = stored
    sessions.set(node, {
      life,
      ...(bdSeq === undefined ? {} : { bdSeq: BigInt(bdSeq) }),
      ...(seq === undefined ? {} : { seq }),
      births: new Map(births),
    })
  }
  const held = new Map<string, Held>()
  for (const analyzer of analyzers) {
    const stored = read('held', analyzer) as Held | undefined
    if (stored !== undefined) held.set(analyzer, stored)
  }
  return { sessions, held }
}

/** Names hold no slash, but for metrics, which stand in no key. */
function keyOf(feed: string, ...parts: readonly string[]): string {
  return ['sparkplug', feed, ...parts].join('/')
}

interface StoredSession {
  readonly life: Session['life']
  readonly bdSeq?: string
  readonly seq?: number
}

function storedSession({ life, bdSeq, seq }: Session): StoredSession {
  return {
    life,
    ...(bdSeq === undefined ? {} : { bdSeq: String(bdSeq) }),
    ...(seq === undefined ? {} : { seq }),
  }
}

type StoredDevice = readonly [device: string, dead: boolean, sure: boolean]

function storedDevice([device, { dead, sure }]: readonly [string, Birth]): StoredDevice {
  return [device, dead, sure]
}

type StoredMetric = readonly [name: string, alias: string | null, datatype: number | null]

function storedMetric({ name, alias, datatype }: BornMetric): StoredMetric {
  return [name, alias === undefined ? null : String(alias), datatype ?? null]
}

function toMetric([name, alias, datatype]: StoredMetric): BornMetric {
  return {
    name,
    ...(alias === null ? {} : { alias: BigInt(alias) }),
    ...(datatype === null ? {} : { datatype }),
  }
}
