import { readFileSync } from 'node:fs'
import { createConnection, createServer, type Server } from 'node:net'
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest'
import type { MqttBroker } from '../../src/adapters/connectionsFile.js'
import type { ConnectionNews } from '../../src/adapters/mqttConnection.js'
import { connectMqttFeed } from '../../src/adapters/mqttFeed.js'
import { mqttSink } from '../../src/adapters/mqttSink.js'
import { secretOf } from '../../src/adapters/secret.js'
import { eventually } from '../support/eventually.js'
import { hasMosquitto, type Mosquitto, type MosquittoSecurity, startMosquitto } from '../support/mosquitto.js'
import { freePorts } from '../support/servers/freePorts.js'

const open: (() => Promise<unknown>)[] = []
afterEach(async () => {
  for (const close of open.splice(0).reverse()) await close()
})

describe.skipIf(!hasMosquitto()).each([5, '3.1.1'] as const)('login at Mosquitto with MQTT %s', version => {
  let broker: Mosquitto
  let plain: Mosquitto
  let security: MosquittoSecurity
  beforeAll(async () => {
    ;[broker, plain] = await Promise.all([startMosquitto({ secure: true }), startMosquitto()])
    security = broker.secure!
  })
  afterAll(() => Promise.all([broker.stop(), plain.stop()]))

  it('works with user and password over TLS', async () => {
    expect(await tell(good())).toMatchObject({ state: 'connected' })
  })

  it('works with a certificate of ours, and without user and password', async () => {
    expect(await tell(withCertificate())).toMatchObject({ state: 'connected' })
  })

  it('tells a wrong authority', async () => {
    expect(await problemOf({ ...good(), tls: { ca: pem(security.otherCa) } })).toBe(
      `localhost:${broker.port} shows a certificate of an authority that is not trusted here: put the PEM file of the authority that signed it under tls.ca`,
    )
  })

  it('tells a certificate that has expired', async () => {
    expect(await problemOf({ ...good(), url: security.expiredUrl })).toBe(
      `the certificate of ${security.expiredUrl.slice('mqtts://'.length)} has expired: renew it on the server, and check the clock of this machine`,
    )
  })

  it('tells a host that the certificate does not name', async () => {
    // The whole of 127/8 is this machine; the certificate is made out to localhost and 127.0.0.1.
    const server = await forward('127.0.0.2', broker.port)
    const port = (server.address() as { port: number }).port
    expect(await problemOf({ ...good(), url: `mqtts://127.0.0.2:${port}` })).toBe(
      'the certificate is not made out to 127.0.0.2 but to DNS:localhost, IP Address:127.0.0.1: use a name that stands in it, or have it made out to 127.0.0.2 too',
    )
  })

  it('tells a wrong password, without it', async () => {
    const problem = await problemOf({ ...good(), password: secretOf('not-the-password') })
    expect(problem).toBe(
      `the broker does not let the user ${security.user} in: correct username or password, or let this user in there`,
    )
  })

  it('tells that user and password are missing', async () => {
    const { username: _, password: __, ...nobody } = good()
    expect(await problemOf(nobody)).toBe(
      'the broker lets nobody in without user and password: state username and password',
    )
  })

  it('tells that a certificate of ours is missing', async () => {
    const url = security.clientCertificateUrl
    const problem = await problemOf({ ...good(), url })
    expect(problem).toBe(
      `${url.slice('mqtts://'.length)} asks for a certificate of ours: put one that its authority signed under tls.cert and tls.key`,
    )
  })

  it('tells a key that belongs to another certificate, before it connects', async () => {
    const { tls, ...rest } = withCertificate()
    const key = secretOf(pem(security.clientCertificate.key.replace(/client\.key$/, 'server.key')))
    const news: ConnectionNews[] = []
    watch({ ...rest, tls: { ...tls, key } }, news)
    expect(news).toEqual([
      {
        state: 'refused',
        problem:
          'the key under tls.key does not belong to the certificate under tls.cert: give the two that were made together',
      },
    ])
  })

  it('never connects in the clear where tls is stated', async () => {
    const news: ConnectionNews[] = []
    watch({ ...good(), url: plain.url }, news)
    expect(news).toEqual([
      {
        state: 'refused',
        problem: 'tls is stated, but the url begins with mqtt://: write mqtts://, or take tls out',
      },
    ])
  })

  it('tells a port that speaks TLS where we do not', async () => {
    const { tls: _, ...clear } = good()
    expect(await problemOf({ ...clear, url: broker.url.replace('mqtts', 'mqtt') })).toBe(
      `localhost:${broker.port} closed the connection: if it speaks TLS there, write mqtts://`,
    )
  })

  it('tells a port that does not speak TLS where we do', async () => {
    expect(await problemOf({ ...good(), url: `mqtts://127.0.0.1:${plain.port}` })).toBe(
      `127.0.0.1:${plain.port} closed the connection: if it does not speak TLS there, write mqtt://; if it asks for a certificate of ours, put that under tls.cert and tls.key`,
    )
  })

  it('tells that nothing listens, and a host nobody knows', async () => {
    const [port] = await freePorts(1)
    expect(await problemOf({ ...good(), url: `mqtts://127.0.0.1:${port!}` })).toBe(
      `nothing listens on 127.0.0.1:${port!}: start the server there, or correct the host or the port`,
    )
    // RFC 6761 keeps .invalid free of names for ever.
    expect(await problemOf({ ...good(), url: 'mqtts://broker.invalid' })).toBe(
      'the host name broker.invalid is not known: correct it, or add it to the name service of this machine',
    )
  })

  it('tells that somebody else uses the client id', async () => {
    const [one, other]: ConnectionNews[][] = [[], []]
    watch(good(), one!, 'same')
    watch(good(), other!, 'same')
    const problem =
      'the broker ends the connection again and again right after the login: look whether another client, or a second service of this plant, uses the client id same, and read the broker’s log'
    const says = (news: ConnectionNews[]) => news.some(each => each.state === 'refused' && each.problem === problem)
    await eventually('both say so', () => says(one!) && says(other!))
  })

  it.runIf(version === 5)('tells a topic that may not be written', async () => {
    const { user, password } = security.stranger
    const sink = mqttSink({
      broker: { ...good(), username: user, password: secretOf(password) },
      plant: 'hollin-weir',
      clientId: 'stranger',
      news: () => {},
    })
    open.push(sink.close)
    const row = { seq: 1, id: 'a', type: 'analyzer.finding', subject: 'CFE/CFE-A', body: '{}' }
    await expect(sink.publish([row])).rejects.toThrow(
      'the broker does not let the user stranger publish to turbidrift/hollin-weir/event/analyzer.finding: give it the right to write there',
    )
  })

  function good(): MqttBroker {
    return {
      name: 'scada',
      url: broker.url,
      username: security.user,
      password: secretOf(security.password),
      tls: { ca: pem(security.ca) },
      version,
      sessionS: 3_600,
      publishEvents: false,
    }
  }

  function withCertificate(): MqttBroker {
    const { username: _, password: __, ...rest } = good()
    const { certificate, key } = security.clientCertificate
    return {
      ...rest,
      url: security.clientCertificateUrl,
      tls: { ca: pem(security.ca), cert: pem(certificate), key: secretOf(pem(key)) },
    }
  }
})

it('tells a server that never answers', async () => {
  const server = createServer(() => {}).listen(0, '127.0.0.1')
  open.push(async () => server.close())
  await eventually('it listens', () => server.listening)
  const { port } = server.address() as { port: number }
  const url = `mqtt://127.0.0.1:${port}`
  const news = await tell({ name: 'scada', url, sessionS: 3_600, publishEvents: false })
  expect(news).toEqual({
    state: 'refused',
    problem: `127.0.0.1:${port} did not answer within 10 s: check the address and port, the firewalls between, that the broker is not stuck, and whether it wants mqtts://`,
  })
})

/** The first that a feed of this broker tells. */
async function tell(broker: MqttBroker): Promise<ConnectionNews> {
  const news: ConnectionNews[] = []
  watch(broker, news)
  await eventually('it tells something', () => news.length > 0)
  return news[0]!
}

/** The one thing that is wrong: told once with each attempt, and nothing else with it. */
async function problemOf(broker: MqttBroker): Promise<string> {
  const news: ConnectionNews[] = []
  watch(broker, news)
  await eventually('two attempts have failed', () => news.length >= 2)
  expect(news[1]).toEqual(news[0])
  const [first] = news
  if (first?.state !== 'refused') throw new Error(`came: ${JSON.stringify(first)}`)
  const { password, tls } = broker
  for (const secret of [password?.reveal(), tls?.key?.reveal()]) {
    if (secret !== undefined) expect(JSON.stringify(news)).not.toContain(secret)
  }
  return first.problem
}

function watch(broker: MqttBroker, news: ConnectionNews[], clientId = 'login'): void {
  open.push(
    connectMqttFeed({
      broker,
      clientId,
      filter: 'site/#',
      receiveMaximum: 10,
      deliver: ({ next }) => next(),
      news: each => news.push(each),
    }),
  )
}

function pem(path: string): string {
  return readFileSync(path, 'utf8')
}

/** The broker under another address of this machine. */
async function forward(host: string, to: number): Promise<Server> {
  const server = createServer(socket => {
    const through = createConnection(to, '127.0.0.1')
    socket.pipe(through).pipe(socket)
    socket.on('error', () => through.destroy())
    through.on('error', () => socket.destroy())
  }).listen(0, host)
  open.push(async () => server.close())
  await eventually('it listens', () => server.listening)
  return server
}
