import { spawn } from 'node:child_process'
import { once } from 'node:events'
import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { text } from 'node:stream/consumers'
import { AclOperationTypes, AclPermissionTypes, AclResourceTypes, type Admin, ResourcePatternTypes } from 'kafkajs'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { build, MAIN } from '../faults/built.js'
import { expectUnbroken } from '../faults/kafkaEvents.js'
import { startMember } from '../faults/kafkaMember.js'
import { derivedPlants, interleaved, type TestPlant } from '../faults/kafkaPlants.js'
import { sendAhead } from '../faults/kafkaRecords.js'
import { type KafkaRun, prepareRun } from '../faults/kafkaRun.js'
import { temporaryFolder } from '../faults/killed.js'
import { freePorts } from '../support/servers/freePorts.js'
import { hasKafka, type KafkaSecurity, type KafkaServers, startKafka } from '../support/servers/kafka.js'

const PARTITIONS = 2

describe.skipIf(!hasKafka())('a member behind SASL, TLS and access rules', () => {
  const { folder, remove } = temporaryFolder()
  let servers: KafkaServers
  let secure: KafkaSecurity
  let plants: readonly TestPlant[]
  let admin: Admin
  beforeAll(async () => {
    build()
    servers = await startKafka({ secure: true })
    secure = servers.secure!
    plants = derivedPlants(folder, 2, 1)
    admin = servers.client().admin()
    await admin.connect()
  }, 120_000)
  afterAll(async () => {
    await admin.disconnect()
    await servers.stop()
    remove()
  })

  it('is let in with authority, user and password', async () => {
    const run = await prepareRun(servers, folder, 'let-in', PARTITIONS)
    const members = [startMember(run, plants)]
    await sendAhead(servers.client(), run, interleaved(plants), 5_000)
    await expectUnbroken('over TLS', { servers, run, members, plants })
  })

  it('says of each login that cannot work what is wrong, in one sentence', async () => {
    const { connection } = await prepareRun(servers, folder, 'refused', PARTITIONS)
    const sasl = connection.sasl as object
    const [closedPort] = await freePorts(1)
    expect(await refusal({ ...connection, tls: { ca: secure.otherCa } })).toMatch(/authority/)
    expect(await refusal({ ...connection, brokers: [secure.expired] })).toMatch(/certificate .*has expired/)
    expect(await refusal({ ...connection, sasl: { ...sasl, password: { file: secretFile('wrong') } } })).toMatch(
      /refuses the login/,
    )
    expect(await refusal({ ...connection, sasl: undefined })).toMatch(/sasl/)
    expect(await refusal({ ...connection, tls: undefined })).toMatch(/tls/i)
    expect(await refusal({ ...connection, brokers: [`127.0.0.1:${closedPort!}`] })).toMatch(/listens/)
  })

  it('works with the rights it needs and no others, and names each that it lacks', async () => {
    const run = await prepareRun(servers, folder, 'rights', PARTITIONS)
    const connection = { ...run.connection, sasl: strangerLogin() }
    expect(await refusal(connection)).toMatch(/no permission/)
    const rights = rightsNeeded(run)
    await admin.createAcls({ acl: rights })
    for (const right of rights) {
      await admin.deleteAcls({ filters: [right] })
      expect(await refusal(connection), JSON.stringify(right)).toMatch(/no permission/)
      await admin.createAcls({ acl: [right] })
    }
    writeFileSync(run.connectionsPath, JSON.stringify({ kafka: connection }))
    const members = [startMember(run, plants)]
    await sendAhead(servers.client(), run, interleaved(plants), 5_000)
    await expectUnbroken('with the rights it needs', { servers, run, members, plants })
  }, 300_000)

  /** What a member says that ends by itself, which must be one line, and no secret. */
  async function refusal(connection: object): Promise<string> {
    const file = join(folder, 'refused.connections.yaml')
    writeFileSync(file, JSON.stringify({ kafka: connection }))
    const args = ['serve', '--kafka', '--register', plants[0]!.registerPath, '--connections', file, '--ticks', 'event']
    const child = spawn(process.execPath, [MAIN, ...args, '--log-level', 'error'], {
      stdio: ['ignore', 'ignore', 'pipe'],
    })
    const ended = once(child, 'exit')
    const giveUp = setTimeout(() => child.kill('SIGKILL'), 60_000)
    const said = await text(child.stderr)
    expect(await ended, said).toEqual([1, null])
    clearTimeout(giveUp)
    for (const secret of [secure.password, secure.stranger.password]) expect(said).not.toContain(secret)
    const lines = said.trim().split('\n')
    expect(lines, said).toHaveLength(1)
    return lines[0]!
  }

  function strangerLogin() {
    const { user, password } = secure.stranger
    return { mechanism: 'scram-sha-512', username: user, password: { file: secretFile(password) } }
  }

  function secretFile(secret: string): string {
    const file = join(folder, `secret-${secret.slice(0, 5)}`)
    writeFileSync(file, secret, { mode: 0o600 })
    return file
  }

  function rightsNeeded({ topics }: KafkaRun) {
    const { TOPIC, GROUP, TRANSACTIONAL_ID } = AclResourceTypes
    const { READ, WRITE } = AclOperationTypes
    const right = (resourceType: AclResourceTypes, resourceName: string, operation: AclOperationTypes) => ({
      resourceType,
      resourceName,
      resourcePatternType: ResourcePatternTypes.PREFIXED,
      principal: `User:${secure.stranger.user}`,
      host: '*',
      operation,
      permissionType: AclPermissionTypes.ALLOW,
    })
    return [
      right(TOPIC, topics.in, READ),
      right(TOPIC, topics.changelog, READ),
      right(TOPIC, topics.changelog, WRITE),
      right(TOPIC, topics.events, WRITE),
      right(TOPIC, topics.deadLetters, WRITE),
      right(GROUP, 'rights', READ),
      right(TRANSACTIONAL_ID, 'rights-', WRITE),
    ]
  }
})
