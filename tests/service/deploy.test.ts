import { execFileSync, spawnSync } from 'node:child_process'
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { afterAll, describe, expect, it } from 'vitest'
import { type Connections, parseConnections } from '../../src/adapters/connectionsFile.js'
import { connectionProblems } from '../../src/service/connectionProblems.js'
import { run } from '../cli/support.js'

const DEPLOY = fileURLToPath(new URL('../../deploy', import.meta.url))
const folder = mkdtempSync(join(tmpdir(), 'turbidrift-deploy-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))

const unit = text('turbidrift.service')
const example = text('connections.yaml')
/** With what stands in it as a comment, too. */
const whole = `${example.slice(0, example.indexOf('# kafka:'))}${example.slice(example.indexOf('# kafka:')).replace(/^# /gm, '')}`

describe('files for operation', () => {
  it('name connections that can be used, what is commented out included', () => {
    const { mqtt, influx, webhooks, kafka } = connections(whole)
    expect(mqtt.get('site')).toMatchObject({ publishEvents: true, sessionS: 604_800 })
    expect(influx?.database).toBe('turbidrift')
    expect(webhooks.map(({ name }) => name)).toEqual(['maintenance'])
    expect(kafka?.sasl?.mechanism).toBe('scram-sha-512')
    // The example's certificate is none, so what is left is looked at without it.
    const plain = [...mqtt.values()].map(({ tls: _, ...broker }) => [broker.name, broker] as const)
    expect(connectionProblems({ ...connections(whole), mqtt: new Map(plain) })).toEqual([])
  })

  it('have a credential in the unit for each secret of the connections', () => {
    const named = [...example.matchAll(/^[^#\n]*\/run\/credentials\/turbidrift\.service\/([a-z-]+)/gm)].map(
      ([, name]) => name,
    )
    const loaded = [...unit.matchAll(/^LoadCredential=([a-z-]+):\/etc\/turbidrift\/secrets\/\1$/gm)].map(
      ([, name]) => name,
    )
    expect(new Set(loaded)).toEqual(new Set(named))
    expect(named).toHaveLength(3)
  })

  it('call serve with options that it has', async () => {
    const { out: help } = await run(['serve', '--help'])
    const command = /^ExecStart=((?:.*\\\n)*.*)$/m.exec(unit)![1]!
    const container = /^CMD (.*)$/m.exec(text('Containerfile'))![1]!
    for (const called of [command, container]) {
      const options = [...called.matchAll(/--[a-z-]+/g)].map(([option]) => option)
      expect(options.length).toBeGreaterThanOrEqual(3)
      for (const option of options) expect(help).toContain(option)
    }
  })

  it('make the topics that serve --kafka looks for, those beside the input with its partitions', () => {
    writeFileSync(join(folder, 'kafka-topics.sh'), '#!/bin/sh\necho "$@"\n', { mode: 0o755 })
    const made = topicsMade('12').map(line => {
      const value = (option: string) => new RegExp(`${option} (\\S+)`).exec(line)?.[1]
      return {
        topic: value('--topic'),
        partitions: value('--partitions'),
        replicas: value('--replication-factor'),
        line,
      }
    })
    const { topics } = connections(whole).kafka!
    expect(new Set(made.map(({ topic }) => topic))).toEqual(new Set(Object.values(topics)))
    expect(new Set(made.map(({ partitions, replicas }) => `${partitions} ${replicas}`))).toEqual(new Set(['12 3']))
    const compacted = made.filter(({ line }) => line.includes('cleanup.policy=compact'))
    expect(compacted.map(({ topic }) => topic)).toEqual([topics.changelog])
    expect(compacted[0]!.line).not.toContain('retention')
    expect(spawnSync(join(DEPLOY, 'kafka-topics'), ['broker:9092']).status).toBe(2)
  })
})

function topicsMade(partitions: string): string[] {
  const out = execFileSync(join(DEPLOY, 'kafka-topics'), ['broker:9092', partitions], {
    env: { ...process.env, BIN: folder },
  })
  return out.toString().trim().split('\n')
}

function connections(yaml: string): Connections {
  const secret = `whsec_${Buffer.alloc(32, 1).toString('base64')}`
  for (const name of ['mqtt-password', 'influx-password', 'webhook-key', 'kafka-password'])
    writeFileSync(join(folder, name), secret)
  for (const name of ['ca.pem', 'kafka-ca.pem']) writeFileSync(join(folder, name), '-----BEGIN CERTIFICATE-----\n')
  const here = yaml.replaceAll(
    /(\/run\/credentials\/turbidrift\.service|\/etc\/mosquitto\/certs|\/etc\/turbidrift)\//g,
    `${folder}/`,
  )
  const read = parseConnections(here, { name: 'connections.yaml', folder, environment: {} })
  if (!read.ok) throw new Error(read.problems.join('\n'))
  return read.connections
}

function text(file: string): string {
  return readFileSync(join(DEPLOY, file), 'utf8')
}
