import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import mqtt from 'mqtt'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { eventually } from '../support/eventually.js'
import { startReceiver, type WebhookReceiver } from '../support/webhookReceiver.js'
import { build } from './built.js'
import { inputsIn, temporaryFolder } from './killed.js'
import { type ServeProcess, startServe } from './processes.js'

const KEY = `whsec_${Buffer.alloc(32, 7).toString('base64')}`

describe('end of serve', () => {
  const { folder, remove } = temporaryFolder()
  const store = join(folder, 'plant.db')
  /** Takes every event and never answers. */
  let silent: WebhookReceiver
  beforeAll(async () => {
    build()
    silent = await startReceiver(() => 'nothing')
    writeFileSync(join(folder, 'key'), KEY)
    writeFileSync(
      join(folder, 'connections.yaml'),
      `webhooks: { desk: { url: "${silent.url}", secrets: [{ file: key }], allowPrivateAddresses: true } }`,
    )
    writeFileSync(join(folder, 'register.yaml'), 'plant: p\npoints: { CFE: { analyzers: { CFE-A: { unit: NTU } } } }\n')
  })
  afterAll(async () => {
    await silent.stop()
    remove()
  })

  it('waits some seconds for a sink that does not answer, and has everything on disk', async () => {
    const service = await serveWithEvents()
    const inputs = inputsIn(store)
    expect(await service.kill('SIGTERM')).toBe(0)
    expect(inputsIn(store)).toBeGreaterThanOrEqual(inputs)
    const told = service.log.map(({ msg }) => msg)
    expect(told.slice(told.indexOf('Ending'))).toEqual(['Ending', 'Service ended'])
    // Saved as of the last input: the next start has nothing to step again.
    const again = await start()
    expect(again.log.find(({ msg }) => msg === 'State recovered')).toMatchObject({ steppedAgain: 0 })
    await again.kill('SIGKILL')
  })

  it('is at once at a second signal, with what was acknowledged on disk', async () => {
    const service = await serveWithEvents()
    const inputs = inputsIn(store)
    const first = service.kill('SIGTERM')
    await eventually('the end begins', () => service.log.some(({ msg }) => msg === 'Ending'))
    const second = service.kill('SIGTERM')
    // Neither is an exit code: the signal itself ended it.
    expect(await Promise.all([first, second])).toEqual([null, null])
    expect(service.log.some(({ msg }) => msg === 'Service ended')).toBe(false)
    expect(inputsIn(store)).toBe(inputs)
  })

  it('comes at once where the port is taken, and is told in words', async () => {
    const service = await start()
    const second = await startServe(args(service.port!, 'other.db')).then(
      () => 'it started',
      (error: unknown) => String(error),
    )
    expect(second).toContain(`cannot listen on 127.0.0.1:${service.port!}: another program listens there already`)
    await service.kill('SIGKILL')
  })

  it('does not come because the reader of its standard output goes away, which is told', async () => {
    const service = await start('--events', '-')
    service.leave()
    const isTold = () => service.log.some(({ sink, tried }) => sink === 'stdout' && tried === 'at the next start')
    await send(service, isTold)
    const inputs = inputsIn(store)
    await send(service, () => inputsIn(store) > inputs)
    expect(service.exitCode()).toBe(null)
    await service.kill('SIGKILL')
  })

  /** The time of readings goes on from service to service. */
  let minutes = 0

  function start(...more: string[]): Promise<ServeProcess> {
    return startServe([...args(0, 'plant.db'), ...more])
  }

  function args(port: number, storeName: string): readonly string[] {
    const files = ['--register', join(folder, 'register.yaml'), '--connections', join(folder, 'connections.yaml')]
    return [...files, '--store', join(folder, storeName), '--ticks', 'event', '--port', String(port)]
  }

  /** A service with events that the sink does not take. */
  async function serveWithEvents(): Promise<ServeProcess> {
    const service = await start()
    const before = silent.received.length
    await send(service, () => silent.received.length > before)
    return service
  }

  /** Sends readings, each acknowledged before the next. */
  async function send(service: ServeProcess, isEnough: () => boolean): Promise<void> {
    const sender = await mqtt.connectAsync(`mqtt://127.0.0.1:${service.port!}`)
    while (!isEnough()) {
      if (service.exitCode() !== null) throw new Error(`it ended with ${String(service.exitCode())}`)
      const time = new Date(Date.UTC(2026, 3, 1, 6, ++minutes)).toISOString()
      const message = { kind: 'reading', analyzer: 'CFE-A', time, value: 0.05 + (minutes % 3) / 1_000, unit: 'NTU' }
      await sender.publishAsync('turbidrift/in/a', JSON.stringify(message), { qos: 1 })
    }
    await sender.endAsync()
  }
})
