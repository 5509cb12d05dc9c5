import { readFileSync } from 'node:fs'
import { readFile } from 'node:fs/promises'
import { basename, dirname, resolve } from 'node:path'
import type { z } from 'zod'
import { type Fault, sayFault } from '../model/faults.js'
import type { FeedKind } from '../model/messages.js'
import { NOT_SHOWN, showSetting } from '../model/settingValue.js'
import type { EventType } from '../model/vocabulary.js'
import { type ConnectionsFile, connectionsSchema } from './connections.js'
import { sayIoError } from './inputFiles.js'
import { readSecret, type Secret, type SecretPlace, secretOf } from './secret.js'
import { parseYaml, type Path } from './yamlText.js'

/** PEM texts; without `ca` the authorities that Node trusts. */
export interface Tls {
  readonly ca?: string
  readonly cert?: string
  readonly key?: Secret
}

export interface Login {
  readonly username?: string
  readonly password?: Secret
}

export interface MqttBroker extends Login {
  readonly name: string
  readonly url: string
  readonly tls?: Tls
  /** Absent: 5, and 3.1.1 where the broker refuses that. */
  readonly version?: 5 | '3.1.1'
  readonly sessionS: number
  readonly publishEvents: boolean
}

export interface KafkaConnection {
  readonly brokers: readonly string[]
  readonly clientId: string
  readonly group: string
  readonly sessionS: number
  readonly sasl?: {
    readonly mechanism: 'plain' | 'scram-sha-256' | 'scram-sha-512'
    readonly username: string
    readonly password: Secret
  }
  readonly tls?: Tls
  readonly topics: {
    readonly in: string
    readonly events: string
    readonly changelog: string
    readonly deadLetters: string
    readonly rekeyed: string
  }
  readonly kinds: readonly FeedKind[]
  readonly keys: 'refuse' | 'rekey'
}

export interface InfluxConnection extends Login {
  readonly url: string
  readonly database: string
  readonly tls?: Tls
}

export interface Webhook {
  readonly name: string
  readonly url: string
  /** The newest first. */
  readonly secrets: readonly Secret[]
  /** Undefined: all. */
  readonly types?: readonly EventType[]
  readonly allowPrivateAddresses: boolean
  readonly tls?: Tls
}

export interface OutboxLimits {
  readonly parkAfterMs: number
  readonly parkAfterEvents: number
}

/** connections.yaml with its defaults, its secrets and its certificates read. */
export interface Connections {
  readonly mqtt: ReadonlyMap<string, MqttBroker>
  readonly kafka?: KafkaConnection
  readonly influx?: InfluxConnection
  readonly webhooks: readonly Webhook[]
  readonly outbox: OutboxLimits
}

export type ReadConnections =
  | { readonly ok: true; readonly connections: Connections }
  | {
      readonly ok: false
      /** One sentence for each mistake, none with a secret in it. */ readonly problems: readonly string[]
    }

type Environment = Readonly<Record<string, string | undefined>>

const HOUR_MS = 3_600_000
export const OUTBOX_LIMITS: OutboxLimits = { parkAfterMs: 168 * HOUR_MS, parkAfterEvents: 100_000 }

/** What holds where there is no connections.yaml. */
export const NO_CONNECTIONS: Connections = { mqtt: new Map(), webhooks: [], outbox: OUTBOX_LIMITS }

/**
 * Reads and checks connections.yaml, its secrets and certificates; every mistake is told at once.
 * @param path undefined where there is none
 */
export async function readConnectionsFile(
  path: string | undefined,
  environment: Environment,
): Promise<ReadConnections> {
  if (path === undefined) return { ok: true, connections: NO_CONNECTIONS }
  try {
    const text = await readFile(path, 'utf8')
    return parseConnections(text, { name: basename(path), folder: dirname(resolve(path)), environment })
  } catch (error) {
    return { ok: false, problems: [`${path}: ${sayIoError(error as NodeJS.ErrnoException)}`] }
  }
}

/** As `readConnectionsFile`, for text that is at hand; relative paths are looked for in the folder. */
export function parseConnections(
  text: string,
  from: { readonly name: string; readonly folder: string; readonly environment: Environment },
): ReadConnections {
  const yaml = parseYaml(text, from.name)
  if (!yaml.ok) return yaml
  const parsed = connectionsSchema.safeParse(yaml.value ?? {})
  if (!parsed.success) {
    const faults = parsed.error.issues.flatMap(issue => faultsOf(yaml.value, issue)).sort(yaml.byPlace)
    return { ok: false, problems: faults.map(fault => `${yaml.at(fault.path)} ${sayFault(fault)}`) }
  }
  const problems: string[] = []
  const tell = (path: Path, problem: string) => problems.push(`${yaml.at(path)} ${path.join('.')}: ${problem}`)
  const connections = resolved(parsed.data, opener(from.folder, from.environment, tell))
  return problems.length > 0 ? { ok: false, problems } : { ok: true, connections }
}

/** A broker that lets everybody in, as a feed may name one by its address alone. */
export function brokerAt(url: string): MqttBroker {
  return { name: url, url, sessionS: SESSION_HOURS * 3_600, publishEvents: false }
}

interface Opener {
  readonly secret: (path: Path, place: SecretPlace) => Secret
  readonly tls: (
    path: Path,
    tls: { ca?: string | undefined; cert?: string | undefined; key?: string | undefined },
  ) => Tls
}

/** Reads what the file only names; what cannot be read is told, and stands for an empty text until all is told. */
function opener(folder: string, environment: Environment, tell: (path: Path, problem: string) => void): Opener {
  const pem = (path: Path, file: string): string => {
    try {
      const text = readFileSync(resolve(folder, file), 'utf8')
      if (text.includes('-----BEGIN ')) return text
      tell(path, `${resolve(folder, file)} is no PEM file`)
    } catch (error) {
      tell(path, `${resolve(folder, file)} cannot be read: ${(error as NodeJS.ErrnoException).code ?? 'unknown error'}`)
    }
    return ''
  }
  return {
    secret: (path, place) => {
      const read = readSecret(place, folder, environment)
      if (read.ok) return read.secret
      tell(path, read.problem)
      return secretOf('')
    },
    tls: (path, { ca, cert, key }) => ({
      ...(ca === undefined ? {} : { ca: pem([...path, 'ca'], ca) }),
      ...(cert === undefined ? {} : { cert: pem([...path, 'cert'], cert) }),
      ...(key === undefined ? {} : { key: secretOf(pem([...path, 'key'], key)) }),
    }),
  }
}

function resolved(file: ConnectionsFile, open: Opener): Connections {
  const { parkAfterHours, parkAfterEvents } = file.outbox ?? {}
  return {
    mqtt: new Map(Object.entries(file.mqtt ?? {}).map(([name, broker]) => [name, mqttOf(name, broker, open)])),
    ...(file.kafka === undefined ? {} : { kafka: kafkaOf(file.kafka, open) }),
    ...(file.influx === undefined ? {} : { influx: influxOf(file.influx, open) }),
    webhooks: Object.entries(file.webhooks ?? {}).map(([name, webhook]) => webhookOf(name, webhook, open)),
    outbox: {
      parkAfterMs: parkAfterHours === undefined ? OUTBOX_LIMITS.parkAfterMs : parkAfterHours * HOUR_MS,
      parkAfterEvents: parkAfterEvents ?? OUTBOX_LIMITS.parkAfterEvents,
    },
  }
}

const SESSION_HOURS = 168

function mqttOf(name: string, broker: NonNullable<ConnectionsFile['mqtt']>[string], open: Opener): MqttBroker {
  const path = ['mqtt', name]
  return {
    name,
    url: broker.url,
    ...loginOf(broker, path, open),
    ...(broker.tls === undefined ? {} : { tls: open.tls([...path, 'tls'], broker.tls) }),
    ...(broker.version === undefined ? {} : { version: broker.version }),
    sessionS: (broker.sessionHours ?? SESSION_HOURS) * 3_600,
    publishEvents: broker.publishEvents ?? false,
  }
}

function kafkaOf(kafka: NonNullable<ConnectionsFile['kafka']>, open: Opener): KafkaConnection {
  const { brokers, sasl, tls, topics = {} } = kafka
  return {
    brokers,
    clientId: kafka.clientId ?? 'turbidrift',
    group: kafka.group ?? 'turbidrift',
    sessionS: kafka.sessionS ?? 30,
    ...(sasl === undefined
      ? {}
      : { sasl: { ...sasl, password: open.secret(['kafka', 'sasl', 'password'], sasl.password) } }),
    ...(tls === undefined ? {} : { tls: open.tls(['kafka', 'tls'], tls) }),
    topics: {
      in: topics.in ?? 'turbidrift.in',
      events: topics.events ?? 'turbidrift.events',
      changelog: topics.changelog ?? 'turbidrift.changelog',
      deadLetters: topics.deadLetters ?? 'turbidrift.dead-letters',
      rekeyed: topics.rekeyed ?? 'turbidrift.in.rekeyed',
    },
    kinds: kafka.kinds ?? ['reading'],
    keys: kafka.keys ?? 'refuse',
  }
}

function influxOf(influx: NonNullable<ConnectionsFile['influx']>, open: Opener): InfluxConnection {
  return {
    url: influx.url,
    database: influx.database,
    ...loginOf(influx, ['influx'], open),
    ...(influx.tls === undefined ? {} : { tls: open.tls(['influx', 'tls'], influx.tls) }),
  }
}

function webhookOf(name: string, webhook: NonNullable<ConnectionsFile['webhooks']>[string], open: Opener): Webhook {
  const path = ['webhooks', name]
  return {
    name,
    url: webhook.url,
    secrets: webhook.secrets.map((place, index) => open.secret([...path, 'secrets', index], place)),
    ...(webhook.types === undefined ? {} : { types: webhook.types }),
    allowPrivateAddresses: webhook.allowPrivateAddresses ?? false,
    ...(webhook.tls === undefined ? {} : { tls: open.tls([...path, 'tls'], webhook.tls) }),
  }
}

function loginOf(
  { username, password }: { username?: string | undefined; password?: SecretPlace | undefined },
  path: Path,
  open: Opener,
): Login {
  return {
    ...(username === undefined ? {} : { username }),
    ...(password === undefined ? {} : { password: open.secret([...path, 'password'], password) }),
  }
}

type PlacedFault = Fault & { readonly path: Path }

function faultsOf(value: unknown, issue: z.core.$ZodIssue): PlacedFault[] {
  const path = issue.path.map(key => (typeof key === 'symbol' ? String(key) : key))
  if (issue.code !== 'unrecognized_keys') return [faultAt(value, path, issue.message)]
  return issue.keys.map(key => faultAt(value, [...path, key], 'is not a key of the connections here'))
}

function faultAt(value: unknown, path: Path, rule: string): PlacedFault {
  const came = path.reduce<unknown>(
    (at, key) =>
      typeof at === 'object' && at !== null && Object.hasOwn(at, key)
        ? (at as Record<string, unknown>)[key]
        : undefined,
    value,
  )
  return {
    code: came === undefined ? 'missing_field' : 'invalid_field',
    field: path.length === 0 ? 'connections' : path.join('.'),
    value: typeof came === 'object' ? NOT_SHOWN : showSetting(path, came),
    rule,
    path,
  }
}
