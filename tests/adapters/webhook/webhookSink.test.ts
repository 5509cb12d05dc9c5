import { Buffer } from 'node:buffer'
import { createHmac } from 'node:crypto'
import { HTTP } from 'cloudevents'
import { afterEach, describe, expect, it } from 'vitest'
import type { Webhook } from '../../../src/adapters/connectionsFile.js'
import { NotTaken } from '../../../src/adapters/handover.js'
import { secretOf } from '../../../src/adapters/secret.js'
import type { OutboxRow } from '../../../src/adapters/sqliteStore.js'
import { webhookProblems, webhookSink } from '../../../src/adapters/webhook/webhookSink.js'
import { eventually } from '../../support/eventually.js'
import { type Received, type Reply, startReceiver, type WebhookReceiver } from '../../support/webhookReceiver.js'

const SECRET = 'whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw'
const NOW_MS = Date.parse('2026-05-01T06:00:00Z')

const open: (() => Promise<void>)[] = []
afterEach(async () => {
  for (const close of open.splice(0)) await close()
})

describe('webhook', () => {
  it('posts each event as a structured CloudEvent, signed, in order, over one connection', async () => {
    const { receiver, publish, taken } = await hook(() => 204)
    await publish(rows(1, 20))
    expect(taken).toEqual(numbers(1, 20))
    expect(receiver.connections()).toBe(1)
    expect(receiver.received.map(({ body }) => body)).toEqual(rows(1, 20).map(({ body }) => body))
    for (const [index, { method, path, headers, body }] of receiver.received.entries()) {
      expect([method, path]).toEqual(['POST', '/hook'])
      // The reference implementation of CloudEvents reads it by its content type: HTTP binding §3.2.
      expect(headers['content-type']).toBe('application/cloudevents+json; charset=utf-8')
      const event = HTTP.toEvent({ headers, body })
      expect(event).toMatchObject({ id: `e${index + 1}`, type: 'turbidrift.analyzer.finding', data: { n: index + 1 } })
      const signed = `e${index + 1}.${NOW_MS / 1_000}.${body}`
      const expected = createHmac('sha256', Buffer.from(SECRET.slice(6), 'base64'))
        .update(signed)
        .digest('base64')
      expect(headers).toMatchObject({
        'webhook-id': `e${index + 1}`,
        'webhook-timestamp': String(NOW_MS / 1_000),
        'webhook-signature': `v1,${expected}`,
      })
    }
  })

  it('sends an event again with the same id, and says where to go on', async () => {
    const { receiver, publish, taken } = await hook((_request, before) => (before === 1 ? 500 : 200))
    await expect(publish(rows(1, 3))).rejects.toThrow('the receiver answered 500')
    expect(taken).toEqual([1])
    await publish(rows(2, 3))
    expect(receiver.received.map(({ headers }) => headers['webhook-id'])).toEqual(['e1', 'e2', 'e2', 'e3'])
  })

  it.each<[string, Reply, { message: string; retryAfterMs?: number; forGood?: boolean }]>([
    ['a failure', 500, { message: 'the receiver answered 500' }],
    ['a time-out of its own', 408, { message: 'the receiver answered 408' }],
    ['too many requests', 429, { message: 'the receiver answered 429' }],
    ['seconds to wait', later(429, '120'), { message: 'the receiver answered 429', retryAfterMs: 120_000 }],
    ['a date to wait for', later(503, 'Fri, 01 May 2026 06:01:30 GMT'), { message: '503', retryAfterMs: 90_000 }],
    ['a date that is past', later(503, 'Fri, 01 May 2026 05:00:00 GMT'), { message: '503', retryAfterMs: 0 }],
    ['a year to wait', later(503, '31536000'), { message: '503', retryAfterMs: 86_400_000 }],
    ['no time to wait', later(503, 'soon'), { message: '503' }],
    ['that it is gone', 410, { message: '410, gone: it wants no more events', forGood: true }],
    ['that it wants none of it', 400, { message: 'the receiver answered 400 to event e1 (analyzer.finding)' }],
    ['nothing at all', 'nothing', { message: 'no answer within 0.2 s' }],
    ['a broken connection', 'reset', { message: 'ECONNRESET' }],
  ])('keeps the event where the receiver says %s', async (_what, reply, { message, retryAfterMs, forGood = false }) => {
    const { publish, taken, setAside } = await hook(() => reply, { timeoutMs: 200 })
    const error = await publish(rows(1, 2)).catch((thrown: unknown) => thrown)
    expect(String(error)).toContain(message)
    if (typeof reply !== 'string') expect(error).toMatchObject({ retryAfterMs, forGood })
    expect([taken, setAside]).toEqual([[], []])
  })

  it('follows no redirect', async () => {
    const elsewhere = await startReceiver(() => 200)
    open.push(elsewhere.stop)
    const { publish, taken } = await hook(() => ({ status: 307, headers: { location: elsewhere.url } }))
    await expect(publish(rows(1, 1))).rejects.toThrow(
      'answered 307, and redirects are not followed: give its final url',
    )
    expect(taken).toEqual([])
    expect(elsewhere.connections()).toBe(0)
  })

  it('reads little of a long answer, and takes its status for the answer', async () => {
    const { receiver, publish, taken } = await hook(() => ({ status: 200, body: 'x'.repeat(5_000_000) }))
    await publish(rows(1, 3))
    expect(taken).toEqual([1, 2, 3])
    // Each was broken off, and the connection with it.
    expect(receiver.connections()).toBe(3)
  })

  it('sends again at once over a new connection where the kept one was closed', async () => {
    const { receiver, publish, taken } = await hook((_request, before) => (before === 1 ? 'reset' : 200))
    await publish(rows(1, 3))
    expect(taken).toEqual([1, 2, 3])
    expect(receiver.received.map(({ headers }) => headers['webhook-id'])).toEqual(['e1', 'e2', 'e2', 'e3'])
    expect(receiver.connections()).toBe(2)
  })

  it('ends at once what is under way when it is closed', async () => {
    const { receiver, publish, close } = await hook((_request, before) => (before === 0 ? 200 : 'nothing'))
    const publishing = publish(rows(1, 2)).catch((error: unknown) => error)
    await eventually('the second request came', () => receiver.received.length === 2)
    await close()
    expect(await publishing).toBeInstanceOf(Error)
    expect(receiver.connections()).toBe(1)
  })

  it('wants the types it was told', () => {
    const sink = webhookSink({
      webhook: webhook('http://127.0.0.1/', { types: ['work.confirmed'] }),
      now: () => NOW_MS,
    })
    const [finding] = rows(1, 1)
    expect(sink.wants(finding!)).toBe(false)
    expect(sink.wants({ ...finding!, type: 'work.confirmed' })).toBe(true)
  })
})

describe('events that are refused', () => {
  it('lets one pass by after six tries, when the next one is taken, and keeps the order of the others', async () => {
    const { receiver, publish, taken, setAside } = await hook(refusing('e2'))
    const attempts = await handOverAll(publish, taken, 4)
    expect(attempts).toBe(6)
    expect(receiver.taken).toEqual(['e1', 'e3', 'e4'])
    expect(setAside).toEqual([['e2', 'the receiver answered 422']])
    expect(receiver.received.filter(({ headers }) => headers['webhook-id'] === 'e2')).toHaveLength(6)
  })

  it('lets several in a row pass by, each after six tries', async () => {
    const { receiver, publish, taken, setAside } = await hook(refusing('e1', 'e2', 'e3'))
    await handOverAll(publish, taken, 5)
    expect(receiver.taken).toEqual(['e4', 'e5'])
    expect(setAside.map(([id]) => id)).toEqual(['e1', 'e2', 'e3'])
  })

  it('lets none pass by where all are refused, and hands over all in order once the reason is gone', async () => {
    let isRefusing = true
    const { receiver, publish, taken, setAside } = await hook(() => (isRefusing ? 401 : 200))
    let last: unknown
    for (let attempt = 0; attempt < 200; attempt++) {
      last = await publish(rows(1, 30)).catch((error: unknown) => error)
      expect(last).toBeInstanceOf(NotTaken)
    }
    expect(String(last)).toContain('it takes none of those behind it: check its secret and url')
    expect([taken, setAside]).toEqual([[], []])
    // An attempt does not go through the whole page any more.
    const before = receiver.received.length
    await publish(rows(1, 30)).catch(() => {})
    expect(receiver.received.length - before).toBe(20)
    isRefusing = false
    await publish(rows(1, 30))
    expect(receiver.taken).toEqual(rows(1, 30).map(({ id }) => id))
    expect(setAside).toEqual([])
  })

  it('keeps the newest one until there is another to try', async () => {
    const { publish, taken, setAside } = await hook(refusing('e1'))
    for (let attempt = 0; attempt < 10; attempt++) await expect(publish(rows(1, 1))).rejects.toThrow('422')
    expect([taken, setAside]).toEqual([[], []])
    await publish(rows(1, 2))
    expect([taken, setAside]).toEqual([[2], [['e1', 'the receiver answered 422']]])
  })
})

describe('what keeps a webhook from being used', () => {
  it.each<[string, Partial<Webhook>, string]>([
    ['http://hooks.example/', { allowPrivateAddresses: false }, 'url must begin with https://'],
    ['https://10.0.0.7/', { allowPrivateAddresses: false }, '10.0.0.7 is private, RFC 1918'],
    ['https://0x7f.1/', { allowPrivateAddresses: false }, '127.0.0.1 is loopback, RFC 1122'],
    ['https://[::ffff:127.0.0.1]/', { allowPrivateAddresses: false }, 'loopback, RFC 1122'],
    ['https://[fd00::1]:8443/', { allowPrivateAddresses: false }, 'fd00::1 is unique local, RFC 4193'],
    ['http://0.0.0.0/', {}, '0.0.0.0 is this host, RFC 1122'],
    ['https://hooks.example/', { secrets: [secretOf('open sesame')] }, 'secrets.0 must be whsec_ and the base64'],
  ])('%s', (url, more, problem) => {
    const problems = webhookProblems(webhook(url, more))
    expect(problems).toHaveLength(1)
    expect(problems[0]).toContain(problem)
    expect(problems[0]).toMatch(/^webhooks\.maintenance: /)
    expect(problems[0]).not.toContain('sesame')
    expect(() => webhookSink({ webhook: webhook(url, more), now: () => NOW_MS })).toThrow(problems[0])
  })

  it('is nothing where all is well', () => {
    expect(webhookProblems(webhook('https://hooks.example/', { allowPrivateAddresses: false }))).toEqual([])
    expect(webhookProblems(webhook('http://192.168.7.7/', {}))).toEqual([])
  })
})

interface Hook {
  readonly receiver: WebhookReceiver
  readonly publish: (rows: readonly OutboxRow[]) => Promise<void>
  readonly close: () => Promise<void>
  readonly taken: number[]
  readonly setAside: [id: string, reason: string][]
}

/** A receiver and a sink that hands over to it. */
async function hook(
  reply: (request: Received, before: number) => Reply,
  more: { readonly timeoutMs?: number } = {},
): Promise<Hook> {
  const receiver = await startReceiver(reply)
  const sink = webhookSink({ webhook: webhook(receiver.url, {}), now: () => NOW_MS, ...more })
  open.push(sink.close, receiver.stop)
  const taken: number[] = []
  const setAside: [string, string][] = []
  const handover = {
    taken: (seq: number) => void taken.push(seq),
    setAside: (row: OutboxRow, reason: string) => void setAside.push([row.id, reason]),
  }
  return { receiver, publish: page => sink.publish(page, handover), close: sink.close, taken, setAside }
}

/** As the outbox does: again from behind the last event that was taken. @returns how many attempts it took */
async function handOverAll(publish: Hook['publish'], taken: readonly number[], last: number): Promise<number> {
  for (let attempt = 1; ; attempt++) {
    if (attempt > 1_000) throw new Error('handed over in vain')
    try {
      await publish(rows((taken.at(-1) ?? 0) + 1, last))
      return attempt
    } catch (error) {
      expect(error).toBeInstanceOf(NotTaken)
    }
  }
}

function webhook(url: string, more: Partial<Webhook>): Webhook {
  return { name: 'maintenance', url, secrets: [secretOf(SECRET)], allowPrivateAddresses: true, ...more }
}

function refusing(...ids: readonly string[]): (request: Received) => Reply {
  return ({ headers }) => (ids.includes(headers['webhook-id'] as string) ? 422 : 200)
}

function later(status: number, retryAfter: string): Reply {
  return { status, headers: { 'retry-after': retryAfter } }
}

function rows(first: number, last: number): OutboxRow[] {
  return numbers(first, last).map(seq => {
    const attributes = { specversion: '1.0', source: 'hollin-weir', subject: 'P/P-A', time: '2026-05-01T05:59:00Z' }
    const type = 'analyzer.finding'
    const body = JSON.stringify({ ...attributes, id: `e${seq}`, type: `turbidrift.${type}`, data: { n: seq } })
    return { seq, id: `e${seq}`, type, subject: 'P/P-A', body }
  })
}

function numbers(first: number, last: number): number[] {
  return Array.from({ length: last - first + 1 }, (_, index) => first + index)
}
