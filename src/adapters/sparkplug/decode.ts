import type { Rejected } from '../../model/recordedInput.js'
import { MAX_MESSAGE_BYTES, tooLarge } from '../payload.js'
import type { MetricTable } from './metricTable.js'
import { type Reading, readMetrics } from './readings.js'
import { hexOf, type Refusal, refusedPayload } from './refusals.js'
import { without } from './held.js'
import { follow, type Followed, SELF } from './session.js'
import { changedRows, heldRow, type SparkplugState } from './stored.js'
import { readTopic, type SparkplugTopic } from './topic.js'
import { readPayload, type WirePayload } from './wire.js'

/** What a feed reads: which edge nodes, and what their metrics are. */
export interface SparkplugPlan {
  readonly feed: string
  readonly group: string
  readonly node: string | undefined
  readonly table: MetricTable
}

/** What happened to an edge node or one of its devices, for the log. */
export interface SparkplugNews {
  readonly kind: 'birth' | 'death' | 'stale_death' | 'gap'
  readonly node: string
  readonly device?: string
}

/** What one packet gave. */
export interface SparkplugDecoded {
  readonly messages: readonly Reading[]
  readonly refused?: Rejected
  readonly news: readonly SparkplugNews[]
  /** Rows of the store that changed, to be written with the messages. */
  readonly rows: ReadonlyMap<string, string>
}

const NOTHING: SparkplugDecoded = { messages: [], news: [], rows: new Map() }
/** Topics can be made up without end; what is known of an edge node is kept for ever. */
const MOST_NODES = 1_000
const MOST_DEVICES = 10_000
const TOPIC_RULE =
  'must be spBv1.0/group/type/node for NBIRTH, NDATA and NDEATH, and with /device for DBIRTH, DDATA and DDEATH'
const REBIRTH = 'have a host application ask the edge node for a rebirth; this service sends no commands'

/**
 * Makes readings of one packet of Sparkplug B. The state handed in is spent. Nothing but state and packet decides: the
 * same packets give the same readings, whatever restarts lie between.
 * @returns undefined where the topic is not one of the feed's
 */
export function decodeSparkplug(
  state: SparkplugState,
  plan: SparkplugPlan,
  topic: string,
  payload: Uint8Array,
): SparkplugDecoded | undefined {
  const about = readTopic(topic, plan.group, plan.node)
  if (about === undefined) return undefined
  // Commands to edge nodes come from host applications and hold nothing that was measured.
  if (about === 'command') return NOTHING
  if (about === 'malformed')
    return refuse({ code: 'invalid_field', field: 'topic', value: topic, rule: TOPIC_RULE }, payload)
  if (payload.byteLength > MAX_MESSAGE_BYTES) {
    return { ...NOTHING, refused: tooLarge(payload.byteLength, hexOf(payload)) }
  }
  const read = readPayload(payload)
  if (read === undefined) {
    const rule = 'must be a payload of Sparkplug B: protobuf by the description of Sparkplug 3.0.0'
    return refuse({ code: 'malformed_payload', field: '', value: hexOf(payload), rule }, payload)
  }
  const many = tooMany(state, about)
  if (many !== undefined) return refuse(many, payload)
  const before = state.sessions.get(about.node)
  const followed = follow(before, about, read, plan.table.wants(about.device))
  if (!followed.ok) {
    const { field, value, rule } = followed.problem
    return refuse({ code: value === undefined ? 'missing_field' : 'invalid_field', field, value, rule }, payload)
  }
  state.sessions.set(about.node, followed.session)
  const rows = changedRows(plan.feed, about.node, before, followed.session, state.sessions.keys())
  if (followed.came === 'birth' || followed.came === 'death') forgetHeld(state, plan.feed, about, rows)
  const { messages, refusals } = metricsOf(state, plan, about, followed, read, rows)
  return {
    messages,
    ...(refusals.length === 0 ? {} : { refused: refusedPayload(refusals, payload) }),
    news: newsOf(about, followed),
    rows,
  }
}

function refuse(refusal: Refusal, payload: Uint8Array): SparkplugDecoded {
  return { ...NOTHING, refused: refusedPayload([refusal], payload) }
}

function tooMany({ sessions }: SparkplugState, { node, device }: SparkplugTopic): Refusal | undefined {
  const session = sessions.get(node)
  if (session === undefined && sessions.size >= MOST_NODES) {
    const rule = `must be one of at most ${String(MOST_NODES)} edge nodes of a feed: name the node in the register`
    return { code: 'too_large', field: 'node', value: node, rule }
  }
  if (session === undefined || device === undefined || session.births.has(device)) return undefined
  const rule = `must be one of at most ${String(MOST_DEVICES)} devices of an edge node`
  return session.births.size > MOST_DEVICES ? { code: 'too_large', field: 'device', value: device, rule } : undefined
}

/** A birth states every value anew, and after a death none counts: what was held from there is over. */
function forgetHeld(
  state: SparkplugState,
  feed: string,
  { kind, node, device }: SparkplugTopic,
  rows: Map<string, string>,
): void {
  const source = sourceOf(node, device)
  const isOver = kind.startsWith('N')
    ? (from: string) => from.startsWith(`${node}/`)
    : (from: string) => from === source
  for (const [analyzer, held] of state.held) {
    const left = without(held, isOver)
    if (left === held) continue
    state.held.set(analyzer, left)
    rows.set(...heldRow(feed, analyzer, left))
  }
}

function metricsOf(
  state: SparkplugState,
  plan: SparkplugPlan,
  { kind, node, device }: SparkplugTopic,
  { admits, birth }: Extract<Followed, { ok: true }>,
  payload: WirePayload,
  rows: Map<string, string>,
): { messages: readonly Reading[]; refusals: readonly Refusal[] } {
  const isOver = kind === 'NDEATH' || kind === 'DDEATH'
  if (isOver || payload.metrics.length === 0 || !plan.table.wants(device)) return { messages: [], refusals: [] }
  // Of a device that is no analyzer's, nobody can say what a metric without a name would have been.
  const isKnown = plan.table.knows(device)
  if (admits === 'none') {
    if (!isKnown) return { messages: [], refusals: [] }
    const count = payload.metrics.length
    const rule = `must come after a birth: ${REBIRTH}`
    return { messages: [], refusals: [{ code: 'no_birth', field: 'metrics', value: `${String(count)} metrics`, rule }] }
  }
  const source = sourceOf(node, device)
  const { messages, refusals, held } = readMetrics({
    payload,
    find: metric => plan.table.find(device, metric),
    birth,
    takesAliases: admits === 'all',
    isBirth: kind === 'NBIRTH' || kind === 'DBIRTH',
    source,
    held: state.held,
  })
  for (const [analyzer, after] of held) {
    state.held.set(analyzer, after)
    rows.set(...heldRow(plan.feed, analyzer, after))
  }
  return { messages, refusals: isKnown ? refusals : refusals.filter(({ code }) => code !== 'no_birth') }
}

function sourceOf(node: string, device: string | undefined): string {
  return `${node}/${device ?? SELF}`
}

function newsOf({ node, device }: SparkplugTopic, { came, gap }: Extract<Followed, { ok: true }>): SparkplugNews[] {
  const who = { node, ...(device === undefined ? {} : { device }) }
  const news: SparkplugNews[] = gap ? [{ kind: 'gap', node }] : []
  if (came !== 'data' && came !== 'death_again') news.push({ kind: came, ...who })
  return news
}
