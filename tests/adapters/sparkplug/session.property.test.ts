import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { decodeSparkplug, type SparkplugPlan } from '../../../src/adapters/sparkplug/decode.js'
import { metricTable } from '../../../src/adapters/sparkplug/metricTable.js'
import { restoreState } from '../../../src/adapters/sparkplug/stored.js'
import type { Unit } from '../../../src/model/units.js'
import { bdSeq, encode, float, GROUP, type SentMetric, topicOf } from './edgeNode.js'

/**
 * An edge node with two devices of two analyzers each sends births, data and deaths as it may; some packets are lost,
 * the service is started anew now and then, and aliases change with every birth. What must come out is said by a model
 * that looks back over everything that arrived, and keeps no state.
 */
const DEVICES = ['D1', 'D2'] as const
type Device = (typeof DEVICES)[number]
const ANALYZERS = { D1: ['A', 'B'], D2: ['C', 'D'] } as const

interface Command {
  readonly do: 'nbirth' | 'ndeath' | 'stale_ndeath' | 'dbirth' | 'ddeath' | 'data' | 'restart'
  readonly device: Device
  /** The birth gives the two aliases the other way round. */
  readonly swap: boolean
  readonly byAlias: boolean
  readonly lost: boolean
}

/** A packet as it was sent, and what it means. */
interface Packet {
  readonly kind: 'NBIRTH' | 'DBIRTH' | 'DDATA' | 'DDEATH' | 'NDEATH'
  readonly device?: Device
  readonly bdSeq: number
  readonly seq?: number
  readonly metrics: readonly SentMetric[]
  /** Analyzer of each metric, in their order. */
  readonly truth: readonly string[]
  readonly byAlias: boolean
  readonly lost: boolean
}

const chance = (one: number) => fc.integer({ min: 1, max: one }).map(n => n === 1)
const command: fc.Arbitrary<Command> = fc.record({
  do: fc.oneof(
    { weight: 1, arbitrary: fc.constantFrom('nbirth', 'ndeath', 'stale_ndeath', 'restart') },
    { weight: 2, arbitrary: fc.constantFrom('dbirth', 'ddeath', 'dbirth') },
    { weight: 8, arbitrary: fc.constant('data') },
  ),
  device: fc.constantFrom(...DEVICES),
  swap: fc.boolean(),
  byAlias: fc.boolean(),
  lost: chance(6),
})
const births: readonly Command[] = (['nbirth', 'dbirth', 'dbirth'] as const).map((what, i) => {
  return { do: what, device: DEVICES[i === 1 ? 0 : 1], swap: false, byAlias: false, lost: false }
})

describe('any sequence of births, data, deaths, losses and restarts', () => {
  it('gives the readings that a look back over all that arrived would give', () => {
    let taken = 0
    let refused = 0
    fc.assert(
      fc.property(
        fc.array(command, { minLength: 5, maxLength: 60 }),
        fc.integer({ min: 0, max: 255 }),
        (commands, seq) => {
          const rows = new Map<string, string>()
          const restart = () => restoreState('gateway', units.keys(), key => rows.get(key))
          let state = restart()
          const arrived: Packet[] = []
          const all: Packet[] = []
          for (const one of sent([...births, ...commands], seq)) {
            if (one === 'restart') {
              state = restart()
              continue
            }
            all.push(one)
            if (one.lost) continue
            arrived.push(one)
            const topic = topicOf(one.kind, 'Filters', one.device)
            const decoded = decodeSparkplug(state, plan, topic, encode(one.seq, one.metrics))!
            for (const [key, text] of decoded.rows) rows.set(key, text)
            const expected = isTaken(all, arrived)
              ? one.truth.map((analyzer, i) => [analyzer, one.metrics[i]!.value as number])
              : []
            expect(decoded.messages.map(({ analyzer, value }) => [analyzer, value])).toEqual(expected)
            expect(decoded.refused === undefined).toBe(expected.length === one.truth.length)
            taken += expected.length
            refused += one.truth.length - expected.length
          }
        },
      ),
      { seed: 7, numRuns: 600 },
    )
    // A run in which nothing is taken, or nothing refused, would show nothing.
    expect(taken).toBeGreaterThan(1_000)
    expect(refused).toBeGreaterThan(1_000)
  })
})

const units = new Map<string, Unit>(DEVICES.flatMap(each => ANALYZERS[each].map(name => [name, 'NTU'] as const)))
const plan: SparkplugPlan = {
  feed: 'gateway',
  group: GROUP,
  node: 'Filters',
  table: metricTable(
    DEVICES.flatMap(each =>
      ANALYZERS[each].map(name => ({ device: each, metric: name, analyzer: name, field: 'value' as const })),
    ),
    units,
  ),
}

/** What the edge node sends: births before data, numbers on from the birth, aliases as the newest birth gave them. */
function* sent(commands: readonly Command[], firstSeq: number): Generator<Packet | 'restart'> {
  let seq = firstSeq
  let session = 0
  let isUp = false
  let value = 0
  const aliases = new Map<Device, readonly [number, number]>()
  const numbered = () => (seq = (seq + 1) % 256)
  for (const one of commands) {
    const common = { bdSeq: session, metrics: [], truth: [], byAlias: false, lost: one.lost }
    if (one.do === 'restart') yield 'restart'
    else if (one.do === 'nbirth') {
      session += isUp ? 0 : 1
      isUp = true
      aliases.clear()
      yield { ...common, kind: 'NBIRTH', bdSeq: session, seq: numbered(), metrics: [bdSeq(session)] }
    } else if (one.do === 'stale_ndeath') {
      yield { ...common, kind: 'NDEATH', bdSeq: session - 1, metrics: [bdSeq(session - 1)] }
    } else if (!isUp) continue
    else if (one.do === 'ndeath') {
      isUp = false
      yield { ...common, kind: 'NDEATH', metrics: [bdSeq(session)] }
    } else if (one.do === 'dbirth') {
      const first = one.device === 'D1' ? 10 : 20
      aliases.set(one.device, one.swap ? [first + 1, first] : [first, first + 1])
      const truth = ANALYZERS[one.device]
      const metrics = truth.map((name, i) => float(name, ++value, { alias: aliases.get(one.device)![i]! }))
      yield { ...common, kind: 'DBIRTH', device: one.device, seq: numbered(), metrics, truth }
    } else if (!aliases.has(one.device)) continue
    else if (one.do === 'ddeath') {
      aliases.delete(one.device)
      yield { ...common, kind: 'DDEATH', device: one.device, seq: numbered() }
    } else {
      const truth = ANALYZERS[one.device]
      const named = aliases.get(one.device)!
      const metrics = truth.map((name, i) =>
        one.byAlias ? float(undefined, ++value, { alias: named[i]! }) : float(name, ++value),
      )
      yield { ...common, kind: 'DDATA', device: one.device, seq: numbered(), metrics, truth, byAlias: one.byAlias }
    }
  }
}

/** Whether the metrics of the newest packet that arrived may be taken. @param all every packet sent, lost or not */
function isTaken(all: readonly Packet[], arrived: readonly Packet[]): boolean {
  const newest = arrived.at(-1)!
  if (newest.truth.length === 0) return true
  const before = arrived.slice(0, -1)
  if (isNodeDead(before)) return false
  if (newest.kind === 'DBIRTH') return true
  const nodeBirth = before.findLastIndex(({ kind }) => kind === 'NBIRTH')
  const ofDevice = before.findLastIndex(
    ({ kind, device: whose }, i) =>
      i > nodeBirth && whose === newest.device && (kind === 'DBIRTH' || kind === 'DDEATH'),
  )
  if (before[ofDevice]?.kind === 'DDEATH') return false
  const isWhole = (from: number) => from >= 0 && !all.slice(all.indexOf(before[from]!)).some(isLossWithNumber)
  // Nothing was lost since the edge node was born, and the device was not.
  if (ofDevice < 0 && isWhole(nodeBirth)) return false
  return newest.byAlias ? ofDevice >= 0 && isWhole(ofDevice) : true
}

function isLossWithNumber(packet: Packet): boolean {
  return packet.lost && packet.seq !== undefined
}

/** By the births and deaths that arrived: an NDEATH counts for the session whose birth arrived last, or was never seen. */
function isNodeDead(arrived: readonly Packet[]): boolean {
  let known: number | undefined
  let isDead = false
  for (const { kind, bdSeq: session } of arrived) {
    if (kind === 'NBIRTH') {
      known = session
      isDead = false
    } else if (kind === 'NDEATH' && !isDead && (known === undefined || known === session)) {
      isDead = true
      known = session
    }
  }
  return isDead
}
