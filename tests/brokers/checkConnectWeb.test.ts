import { readFileSync } from 'node:fs'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { checkInflux } from '../../src/adapters/connectCheck/checkInflux.js'
import { checkWebhook } from '../../src/adapters/connectCheck/checkWebhook.js'
import type { InfluxConnection, Webhook } from '../../src/adapters/connectionsFile.js'
import { secretOf } from '../../src/adapters/secret.js'
import { temporaryFolder } from '../faults/killed.js'
import { type Certificate, type Certificates, makeCertificates, sign } from '../support/servers/certificates.js'
import { hasInflux, type InfluxServer, startInflux } from '../support/servers/influx.js'
import { startReceiver, type WebhookReceiver } from '../support/webhookReceiver.js'

const pem = (path: string) => readFileSync(path, 'utf8')

describe.skipIf(!hasInflux())('check of InfluxDB behind TLS and passwords', () => {
  let server: InfluxServer
  beforeAll(async () => {
    server = await startInflux({ secure: true })
    await server.createDatabase('turbidrift')
  })
  afterAll(() => server.stop())

  it('finds nothing wrong, and writes nothing', async () => {
    expect(await checkInflux(good())).toEqual([
      { connection: 'influx', state: 'ok', says: 'points can be written to the database turbidrift as service' },
    ])
    expect(await server.client('turbidrift').getMeasurements()).toEqual([])
  })

  it('says one thing of each that cannot work, and no secret', async () => {
    const { stranger, otherCa } = server.secure!
    const tries: readonly (readonly [InfluxConnection, RegExp])[] = [
      [{ ...good(), password: secretOf('not-the-password') }, /does not let the user service in/],
      [{ ...good(), username: stranger.user, password: secretOf(stranger.password) }, /GRANT WRITE ON "turbidrift"/],
      [{ ...good(), database: 'none' }, /has no database none/],
      [{ ...good(), tls: { ca: pem(otherCa) } }, /authority that is not trusted here/],
      [{ ...good(), url: server.url.replace('https', 'http') }, /http/],
    ]
    for (const [connection, expected] of tries) {
      const found = await checkInflux(connection)
      expect(found).toHaveLength(1)
      expect(found[0]).toMatchObject({ state: 'wrong' })
      expect(found[0]!.says).toMatch(expected)
      for (const secret of ['not-the-password', stranger.password]) expect(found[0]!.says).not.toContain(secret)
    }
  })

  function good(): InfluxConnection {
    const { ca, user, password } = server.secure!
    return {
      url: server.url,
      database: 'turbidrift',
      username: user,
      password: secretOf(password),
      tls: { ca: pem(ca) },
    }
  }
})

describe('check of a webhook behind TLS', () => {
  const { folder, remove } = temporaryFolder()
  const certificates: Certificates = makeCertificates(folder)
  const ours: Certificate = sign(folder, 'ours', 'turbidrift')
  const receivers: WebhookReceiver[] = []
  afterAll(async () => {
    for (const receiver of receivers) {
      expect(receiver.received).toEqual([])
      await receiver.stop()
    }
    remove()
  })

  it('finds nothing wrong up to the certificate, ours included', async () => {
    const url = await receive(certificates.server, { requestCert: true, rejectUnauthorized: true })
    const tls = { ca: pem(certificates.ca), cert: pem(ours.certificate), key: secretOf(pem(ours.key)) }
    expect(await check({ url, tls })).toMatch(
      /^ok: localhost:\d+ is reached at .*, with a certificate that is trusted; no event was sent$/,
    )
    expect(await check({ url, tls: { ca: tls.ca } })).toMatch(/^wrong: .* asks for a certificate of ours/)
  })

  it('says what is wrong with the certificate of the receiver', async () => {
    const url = await receive(certificates.server)
    expect(await check({ url })).toMatch(/^wrong: .* an authority that is not trusted here/)
    expect(await check({ url, tls: { ca: pem(certificates.otherCa) } })).toMatch(/^wrong: .* not trusted here/)
    const expired = await receive(certificates.expired)
    expect(await check({ url: expired, tls: { ca: pem(certificates.ca) } })).toMatch(/^wrong: .* has expired/)
    const other = url.replace('localhost', '[::ffff:127.0.0.1]')
    expect(await check({ url: other, tls: { ca: pem(certificates.ca) } })).toMatch(/^wrong: .* is not made out to/)
  })

  it('says where an address is not for events', async () => {
    const url = await receive(certificates.server)
    const tls = { ca: pem(certificates.ca) }
    expect(await check({ url, tls, allowPrivateAddresses: false })).toMatch(
      /^wrong: localhost leads to no address that events may be sent to/,
    )
    expect(await check({ url: 'https://receiver.invalid/hook' })).toMatch(/^wrong: the host name receiver\.invalid/)
  })

  async function receive({ certificate, key }: Certificate, more: object = {}): Promise<string> {
    const tls = { cert: pem(certificate), key: pem(key), ca: pem(certificates.ca), ...more }
    const receiver = await startReceiver(() => 204, { tls })
    receivers.push(receiver)
    return `https://localhost:${receiver.port}/hook`
  }
})

async function check(webhook: Pick<Webhook, 'url'> & Partial<Webhook>): Promise<string> {
  const found = await checkWebhook({ name: 'maintenance', secrets: [], allowPrivateAddresses: true, ...webhook })
  expect(found).toHaveLength(1)
  return `${found[0]!.state}: ${found[0]!.says}`
}
