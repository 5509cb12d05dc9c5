import type { SparkplugTopic } from './topic.js'
import type { WireMetric, WirePayload } from './wire.js'

/** A metric as its birth declared it. */
export interface BornMetric {
  readonly name: string
  readonly alias?: bigint
  readonly datatype?: number
}

/** What is known of a device, or of the edge node itself. */
export interface Birth {
  readonly dead: boolean
  /** False after a gap: a birth may have been lost that gave the aliases anew. */
  readonly sure: boolean
  readonly metrics: readonly BornMetric[]
  readonly byName: ReadonlyMap<string, BornMetric>
  readonly byAlias: ReadonlyMap<bigint, BornMetric>
}

/** The session of one edge node as far as it was followed; never changed, only replaced. */
export interface Session {
  /** `unknown`: nothing but data has been seen of it. */
  readonly life: 'unknown' | 'alive' | 'dead'
  readonly bdSeq?: bigint
  /** Of the newest message that carries one. */
  readonly seq?: number
  /** By device; the edge node itself under the empty name. */
  readonly births: ReadonlyMap<string, Birth>
}

export const SELF = ''
const UNSEEN: Session = { life: 'unknown', births: new Map() }
const LAST_SEQ = 255

export type Followed =
  | { readonly ok: false; readonly problem: { readonly field: string; readonly value: unknown; readonly rule: string } }
  | {
      readonly ok: true
      readonly session: Session
      readonly came: 'birth' | 'data' | 'death' | 'stale_death' | 'death_again'
      readonly gap: boolean
      /** What may be taken of the metrics: nothing where a birth is owed, only those with a name where aliases are in doubt. */
      readonly admits: 'all' | 'named' | 'none'
      /** Of the device or edge node the message is about. */
      readonly birth: Birth | undefined
    }

/**
 * Follows the session of an edge node by one of its messages, by the rules of Sparkplug 3.0.0:
 * - births declare all metrics and their aliases (tck-id-payloads-alias-birth-requirement); an NBIRTH ends what was
 *   known of the devices, and any sequence number may begin it (tck-id-payloads-nbirth-seq);
 * - every other message is numbered one on, 0 after 255 (tck-id-payloads-sequence-num-incrementing), but NDEATH, which
 *   has no number (tck-id-payloads-ndeath-seq) and counts only for the session with its bdSeq
 *   (tck-id-payloads-ndeath-bdseq);
 * - after a death nothing counts until the next birth.
 * @param keep false where no metric of the device is of interest: its life is followed, its metrics are not kept
 */
export function follow(
  before: Session | undefined,
  topic: SparkplugTopic,
  payload: WirePayload,
  keep: boolean,
): Followed {
  const known = before ?? UNSEEN
  if (topic.kind === 'NDEATH') return nodeDeath(known, payload)
  const { seq } = payload
  if (seq === undefined || seq > LAST_SEQ) {
    const rule = 'must be a whole number from 0 to 255 (tck-id-payloads-sequence-num-always-included)'
    return { ok: false, problem: { field: 'seq', value: seq, rule } }
  }
  const name = topic.device ?? SELF
  if (topic.kind === 'NBIRTH') {
    const birth = toBirth(payload.metrics, keep)
    const bdSeq = bdSeqOf(payload)
    const session: Session = {
      life: 'alive',
      ...(bdSeq === undefined ? {} : { bdSeq }),
      seq,
      births: new Map([[SELF, birth]]),
    }
    return { ok: true, session, came: 'birth', gap: false, admits: 'all', birth }
  }
  const gap = known.life !== 'dead' && known.seq !== undefined && seq !== (known.seq + 1) % (LAST_SEQ + 1)
  const session: Session = { ...known, seq, births: gap ? inDoubt(known.births) : known.births }
  if (topic.kind === 'DBIRTH' && session.life !== 'dead') {
    const birth = toBirth(payload.metrics, keep)
    return { ok: true, session: withBirth(session, name, birth), came: 'birth', gap, admits: 'all', birth }
  }
  if (topic.kind === 'DDEATH') {
    const again = session.life === 'dead' || session.births.get(name)?.dead === true
    const after = session.life === 'dead' ? session : withBirth(session, name, DEAD)
    return { ok: true, session: after, came: again ? 'death_again' : 'death', gap, admits: 'none', birth: undefined }
  }
  const birth = session.births.get(name)
  return { ok: true, session, came: 'data', gap, admits: admits(session, birth), birth }
}

function nodeDeath(known: Session, payload: WirePayload): Followed {
  const bdSeq = bdSeqOf(payload)
  if (bdSeq === undefined) {
    const rule = 'must be among the metrics of an NDEATH (tck-id-payloads-ndeath-bdseq)'
    return { ok: false, problem: { field: 'bdSeq', value: undefined, rule } }
  }
  const same = { ok: true, session: known, gap: false, admits: 'none', birth: undefined } as const
  if (known.life === 'dead') return { ...same, came: 'death_again' }
  if (known.bdSeq !== undefined && known.bdSeq !== bdSeq) return { ...same, came: 'stale_death' }
  return { ...same, session: { life: 'dead', bdSeq, births: new Map() }, came: 'death' }
}

function admits({ life, births }: Session, birth: Birth | undefined): 'all' | 'named' | 'none' {
  if (life === 'dead' || birth?.dead === true) return 'none'
  if (birth !== undefined) return birth.sure ? 'all' : 'named'
  // Nothing was lost since the birth of the edge node, so this device has had none.
  return births.get(SELF)?.sure === true ? 'none' : 'named'
}

function inDoubt(births: Session['births']): Session['births'] {
  return new Map([...births].map(([name, birth]) => [name, birth.sure ? { ...birth, sure: false } : birth]))
}

function withBirth(session: Session, name: string, birth: Birth): Session {
  return { ...session, births: new Map(session.births).set(name, birth) }
}

export const DEAD: Birth = { dead: true, sure: true, metrics: [], byName: new Map(), byAlias: new Map() }

function toBirth(metrics: readonly WireMetric[], keep: boolean): Birth {
  return bornOf(
    (keep ? metrics : []).flatMap(({ name, alias, datatype }) =>
      name === undefined
        ? []
        : [{ name, ...(alias === undefined ? {} : { alias }), ...(datatype === undefined ? {} : { datatype }) }],
    ),
  )
}

/** The birth that declared these metrics. An alias given twice is nobody's. */
export function bornOf(metrics: readonly BornMetric[], sure = true): Birth {
  const byAlias = new Map<bigint, BornMetric>()
  const twice = new Set<bigint>()
  for (const metric of metrics) {
    if (metric.alias === undefined) continue
    if (byAlias.has(metric.alias)) twice.add(metric.alias)
    byAlias.set(metric.alias, metric)
  }
  for (const alias of twice) byAlias.delete(alias)
  return { dead: false, sure, metrics, byName: new Map(metrics.map(metric => [metric.name, metric])), byAlias }
}

/** Sessions are numbered by a metric, an integer of 64 bits. */
function bdSeqOf({ metrics }: WirePayload): bigint | undefined {
  const value = metrics.find(({ name }) => name === 'bdSeq')?.value
  return value?.field === 'int' || value?.field === 'long' ? value.bits : undefined
}
