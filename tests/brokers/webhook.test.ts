import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import mqtt from 'mqtt'
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest'
import type { Tls } from '../../src/adapters/connectionsFile.js'
import { secretOf } from '../../src/adapters/secret.js'
import { webhookSink } from '../../src/adapters/webhook/webhookSink.js'
import { build, SAMPLES } from '../faults/built.js'
import { writeBeginning } from '../faults/expected.js'
import { startSender, startServe } from '../faults/processes.js'
import { eventually } from '../support/eventually.js'
import { hasMosquitto, startMosquitto } from '../support/mosquitto.js'
import { type Certificates, makeCertificates, sign } from '../support/servers/certificates.js'
import { type ReceiverOptions, startReceiver } from '../support/webhookReceiver.js'

const SECRET = 'whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw'

const folder = mkdtempSync(join(tmpdir(), 'turbidrift-webhook-'))
let certificates: Certificates
beforeAll(() => {
  certificates = makeCertificates(join(folder, 'secrets'))
})
afterAll(() => rmSync(folder, { recursive: true, force: true }))

const open: (() => unknown)[] = []
afterEach(async () => {
  for (const close of open.splice(0).reverse()) await close()
})

describe('webhook behind TLS', () => {
  it('is handed events where its certificate is of the authority named', async () => {
    expect(await handOver(server(), { ca: pem(certificates.ca) })).toEqual(['e1'])
  })

  it.each<[string, () => NonNullable<ReceiverOptions['tls']>, () => Tls, string]>([
    ['of another authority', server, () => ({ ca: pem(certificates.otherCa) }), 'unable to verify|self-signed'],
    ['of an authority nobody knows', server, () => ({}), 'unable to verify|self-signed'],
    ['expired', expired, () => ({ ca: pem(certificates.ca) }), 'certificate has expired'],
  ])('is handed nothing where its certificate is %s', async (_what, tls, trust, problem) => {
    await expect(handOver(tls(), trust())).rejects.toThrow(new RegExp(problem))
  })

  it('is shown a certificate of ours where it asks for one', async () => {
    const ca = pem(certificates.ca)
    const asking = { ...server(), ca, requestCert: true, rejectUnauthorized: true }
    const { certificate, key } = sign(join(folder, 'secrets'), 'client', 'turbidrift')
    expect(await handOver(asking, { ca, cert: pem(certificate), key: secretOf(pem(key)) })).toEqual(['e1'])
    await expect(handOver(asking, { ca })).rejects.toThrow()
  })
})

describe.skipIf(!hasMosquitto())('a maintenance system on a webhook and a broker', () => {
  /** The first request of the sample is opened at 20:47. */
  const BEFORE = '2026-04-16T21:00:00Z'
  /** An answer counts with the quarter of an hour it was given in, when that is over. */
  const AFTER = '2026-04-16T21:20:00Z'

  it('gets a request, answers it by its id, and gets the answer confirmed', async () => {
    build()
    const [stream, rest] = [join(folder, 'stream.ndjson'), join(folder, 'rest.ndjson')]
    await writeBeginning(rest, AFTER)
    const messages = await writeBeginning(stream, BEFORE)
    const lines = readFileSync(rest, 'utf8').split('\n')
    writeFileSync(rest, lines.slice(messages).join('\n'))
    const broker = await startMosquitto()
    const receiver = await startReceiver(() => 202, { tls: server() })
    open.push(broker.stop, receiver.stop)
    const register = join(folder, 'register.yaml')
    writeFileSync(
      register,
      `${readFileSync(join(SAMPLES, 'register.yaml'), 'utf8')}
feeds:
  - { name: site, type: mqtt, url: "${broker.url}", topic: "site/#", kinds: [ reading, grab, work, process ] }
  - { name: maintenance, type: mqtt, url: "${broker.url}", topic: "maintenance/answers", kinds: [ response ] }
`,
    )
    writeFileSync(join(folder, 'key'), SECRET)
    const connections = join(folder, 'connections.yaml')
    writeFileSync(
      connections,
      `webhooks:
  maintenance:
    url: ${receiver.url}
    secrets: [ { file: key } ]
    types: [ recommendation.opened, recommendation.answered ]
    allowPrivateAddresses: true
    tls: { ca: "${certificates.ca}" }
`,
    )
    const args = ['--register', register, '--store', join(folder, 'plant.db'), '--ticks', 'event']
    const service = await startServe([...args, '--connections', connections])
    open.push(() => service.kill('SIGKILL'))
    await eventually('both feeds are connected', () => {
      const feeds = service.log.filter(({ msg, feed }) => msg === 'Connected to the broker' && feed !== undefined)
      return feeds.length === 2
    })
    open.push(startSender(broker.url, stream, 'site/sample', 500).end)

    const events = () => receiver.received.map(({ body }) => JSON.parse(body) as Event)
    await eventually('a request is opened', () => events().length === 1, 200_000)
    const [opened] = events()
    expect(opened).toMatchObject({ type: 'turbidrift.recommendation.opened', data: { phase: 'open', answer: 'none' } })
    const { recommendation } = opened!.data
    const planner = await mqtt.connectAsync(broker.url)
    open.push(() => planner.endAsync(true))
    const answer = { kind: 'response', recommendation, time: opened!.time, decision: 'deferred' }
    const message = JSON.stringify({ ...answer, until: '2026-04-17T08:00:00Z', reason: 'crew tomorrow' })
    await planner.publishAsync('maintenance/answers', message, { qos: 1 })
    open.push(startSender(broker.url, rest, 'site/sample', 500).end)

    await eventually('the answer is confirmed', () => events().length === 2)
    expect(events()[1]).toMatchObject({
      type: 'turbidrift.recommendation.answered',
      subject: opened!.subject,
      data: { recommendation, answer: 'deferred' },
    })
    expect(await service.kill('SIGTERM')).toBe(0)
  }, 300_000)
})

interface Event {
  readonly type: string
  readonly subject: string
  readonly time: string
  readonly data: Readonly<Record<string, unknown>>
}

/** @returns ids of what the receiver took */
async function handOver(receiving: NonNullable<ReceiverOptions['tls']>, tls: Tls): Promise<readonly string[]> {
  const receiver = await startReceiver(() => 200, { tls: receiving })
  const { url } = receiver
  const sink = webhookSink({
    webhook: { name: 'secure', url, secrets: [secretOf(SECRET)], allowPrivateAddresses: true, tls },
    now: Date.now,
  })
  open.push(receiver.stop, sink.close)
  const row = { seq: 1, id: 'e1', type: 'analyzer.finding', subject: 'P/P-A', body: '{}' }
  await sink.publish([row], { taken: () => {}, setAside: () => {} })
  return receiver.taken
}

function server() {
  return { cert: pem(certificates.server.certificate), key: pem(certificates.server.key) }
}

function expired() {
  return { cert: pem(certificates.expired.certificate), key: pem(certificates.expired.key) }
}

function pem(path: string): string {
  return readFileSync(path, 'utf8')
}
