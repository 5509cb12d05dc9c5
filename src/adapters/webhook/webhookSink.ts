import { isIP, type LookupFunction } from 'node:net'
import type { Webhook } from '../connectionsFile.js'
import { type Handover, NotTaken } from '../handover.js'
import type { OutboxRow } from '../sqliteStore.js'
import { addressProblem } from './addresses.js'
import { checkedLookup } from './checkedLookup.js'
import { judge } from './judge.js'
import { createPoster } from './post.js'
import { readSigningKey, signatureHeaders, SIGNING_KEY_RULE } from './signature.js'

export interface WebhookSinkOptions {
  readonly webhook: Webhook
  readonly now: () => number
  readonly timeoutMs?: number
  /** Instead of a look-up that checks by `addressProblem`. */
  readonly lookup?: LookupFunction
}

/** Standard Webhooks 1.0.0, "Request timeouts": 15 to 30 s. */
const TIMEOUT_MS = 20_000
/** With the pauses of the outbox between them, half a minute: a receiver in the middle of an update gets over it. */
const TRIES = 6
/** So many refused in a row are no matter of single events any more, but of a key, an address or a whole type. */
const REFUSED_TOGETHER = 20

/**
 * Posts events to a web address, each as a structured CloudEvent (CloudEvents HTTP binding 1.0.2 §3.2) with the headers
 * of Standard Webhooks, one after the other: `opened` is there before `closed`.
 *
 * An event that is refused (4xx) is tried `TRIES` times before the next one is; only when the receiver takes one of
 * those behind it is it set aside. So neither does one event hold up all others, nor does a receiver that refuses
 * everybody, for a wrong key say, make a single one pass by.
 * @throws with the sentence of `webhookProblems`
 */
export function webhookSink({ webhook, now, timeoutMs = TIMEOUT_MS, lookup }: WebhookSinkOptions): {
  readonly wants: (row: OutboxRow) => boolean
  readonly publish: (rows: readonly OutboxRow[], handover: Handover) => Promise<void>
  readonly close: () => Promise<void>
} {
  const problems = webhookProblems(webhook)
  if (problems.length > 0) throw new Error(problems.join('; '))
  const { url, tls, allowPrivateAddresses, types } = webhook
  const keys = webhook.secrets.flatMap(secret => readSigningKey(secret.reveal()) ?? [])
  const poster = createPoster({
    url,
    tls,
    lookup: lookup ?? checkedLookup(address => addressProblem(address, allowPrivateAddresses)),
    timeoutMs,
  })
  /** How often each event was refused since the last one that was taken. */
  const tries = new Map<string, number>()

  const verdictOn = async (row: OutboxRow) => {
    const signature = signatureHeaders(keys, row.id, Math.floor(now() / 1_000), row.body)
    return judge(await poster.post({ ...HEADERS, ...signature }, row.body), now())
  }

  return {
    wants: row => types === undefined || (types as readonly string[]).includes(row.type),
    publish: async (rows, { taken, setAside }) => {
      const refused: { readonly row: OutboxRow; readonly reason: string }[] = []
      for (const row of rows) {
        const verdict = await verdictOn(row)
        if (verdict.kind === 'later') throw verdict.error
        if (verdict.kind === 'taken') {
          for (const one of refused.splice(0)) setAside(one.row, one.reason)
          tries.clear()
          taken(row.seq)
          continue
        }
        const times = (tries.get(row.id) ?? 0) + 1
        tries.set(row.id, times)
        refused.push({ row, reason: verdict.reason })
        if (times < TRIES || refused.length === REFUSED_TOGETHER) break
      }
      if (refused.length > 0) throw new NotTaken(sayRefused(refused))
    },
    close: async () => poster.close(),
  }
}

const HEADERS = { 'content-type': 'application/cloudevents+json; charset=utf-8', 'user-agent': 'turbidrift' }

/** What keeps a webhook from being used, one sentence each, none with a secret in it. */
export function webhookProblems({ name, url, secrets, allowPrivateAddresses }: Webhook): readonly string[] {
  const { protocol, hostname } = new URL(url)
  const problems: string[] = []
  if (protocol !== 'https:' && !allowPrivateAddresses) {
    problems.push('url must begin with https://, or allowPrivateAddresses be true for one inside the plant')
  }
  const host = hostname.replace(/^\[(.*)\]$/, '$1')
  const problem = isIP(host) === 0 ? undefined : addressProblem(host, allowPrivateAddresses)
  if (problem !== undefined) {
    problems.push(`url must lead to a public address, or allowPrivateAddresses be true; ${problem}`)
  }
  secrets.forEach((secret, index) => {
    if (readSigningKey(secret.reveal()) === undefined) problems.push(`secrets.${index} ${SIGNING_KEY_RULE}`)
  })
  return problems.map(text => `webhooks.${name}: ${text}`)
}

function sayRefused(refused: readonly { readonly row: OutboxRow; readonly reason: string }[]): string {
  const { row, reason } = refused[0]!
  const first = `${reason} to event ${row.id} (${row.type})`
  if (refused.length === 1) return first
  const all = refused.length < REFUSED_TOGETHER ? 'none behind it was taken' : 'it takes none of those behind it'
  return `${first}, and ${all}: check its secret and url, or name the types it wants under types`
}
