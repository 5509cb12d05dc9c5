import { randomBytes } from 'node:crypto'
import { existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { homedir, tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { Kafka, type KafkaConfig, logLevel } from 'kafkajs'
import { makeCertificates } from './certificates.js'
import { freePorts } from './freePorts.js'
import {
  BROKER_USER,
  type KafkaCluster,
  kafkaSettings,
  type KafkaStores,
  SERVICE_USER,
  STRANGER,
} from './kafkaSettings.js'
import { createTopics, leaderOf, type WantedTopic } from './kafkaTopics.js'
import { isInstalled, runTool, serverProcess } from './serverProcess.js'

const HERE = (file: string) => fileURLToPath(new URL(file, import.meta.url))
const CACHE = process.env.TURBIDRIFT_SERVER_CACHE ?? join(homedir(), '.cache', 'turbidrift-servers')

/** Quiet, and not patient with brokers that were killed. */
const BASIS = { clientId: 'test', logLevel: logLevel.NOTHING, requestTimeout: 10_000 }

/** False where Java or the server's jars are not there; tests against it are then skipped. */
export function hasKafka(): boolean {
  return existsSync(jars()) && isInstalled('java', '-version')
}

/** Apache Kafka on free loopback ports. Brokers are numbered from 1, as Kafka numbers them. */
export interface KafkaServers {
  /** `host:port` of each broker, in the order of their numbers. */
  readonly bootstrap: readonly string[]
  /** Undefined where everybody is let in without encryption. */
  readonly secure: KafkaSecurity | undefined
  /** A client that is let in and may do everything; quiet. */
  readonly client: (settings?: Partial<KafkaConfig>) => Kafka
  /** Resolves when every partition has its leader and all its replicas. */
  readonly createTopics: (topics: readonly WantedTopic[]) => Promise<void>
  /** Number of the broker that leads a partition now. */
  readonly leaderOf: (topic: string, partition: number) => Promise<number>
  /** SIGKILL. */
  readonly kill: (broker: number) => Promise<void>
  /** The killed broker again, on the same ports with the same data; resolves when it serves. */
  readonly restart: (broker: number) => Promise<void>
  readonly stop: () => Promise<void>
}

/** SASL/SCRAM-SHA-512 over TLS. */
export interface KafkaSecurity {
  /** Paths of PEM files; `otherCa` signed nothing here. */
  readonly ca: string
  readonly otherCa: string
  /** The service's user, who may do everything. */
  readonly user: string
  readonly password: string
  /** Who may log in, and read, write or join nothing unless granted. */
  readonly stranger: { readonly user: string; readonly password: string }
  /** The first broker's listener whose certificate has expired. */
  readonly expired: string
}

export async function startKafka(
  options: { readonly brokers?: 1 | 3; readonly secure?: boolean } = {},
): Promise<KafkaServers> {
  const folder = mkdtempSync(join(tmpdir(), 'turbidrift-kafka-'))
  const cluster: KafkaCluster = {
    ports: await brokerPorts(options.brokers ?? 1),
    secure: options.secure === true ? makeStores(join(folder, 'secrets')) : undefined,
  }
  const id = randomBytes(16).toString('base64url')
  const brokers = cluster.ports.map((_, index) => prepareBroker(index + 1, folder, id, cluster))
  const bootstrap = cluster.ports.map(({ client }) => `127.0.0.1:${client}`)
  const secure = cluster.secure && describeSecurity(cluster.secure, cluster.ports[0]!.expired)
  const client = (settings: Partial<KafkaConfig> = {}) =>
    new Kafka({ ...BASIS, brokers: [...bootstrap], ...login(secure), ...settings })
  const stop = async () => {
    await Promise.all(brokers.map(broker => broker.end('SIGKILL')))
    rmSync(folder, { recursive: true, force: true })
  }
  const of = (number: number) => brokers[number - 1] ?? fail(`there is no broker ${number}`)
  try {
    await Promise.all(brokers.map(broker => broker.start()))
  } catch (error) {
    await stop()
    throw error
  }
  return {
    bootstrap,
    secure,
    client,
    createTopics: topics => createTopics(client(), cluster.ports.length, topics),
    leaderOf: (topic, partition) => leaderOf(client(), topic, partition),
    kill: number => of(number).end('SIGKILL'),
    restart: number => of(number).start(),
    stop,
  }
}

/** Folder of the jars, named after the version in the file that names them to Maven. */
function jars(): string {
  const version = /<kafka.version>(.*)<\/kafka.version>/.exec(readFileSync(HERE('kafka-pom.xml'), 'utf8'))?.[1]
  return join(CACHE, `kafka-${version ?? fail('no version in kafka-pom.xml')}`)
}

async function brokerPorts(brokers: number): Promise<KafkaCluster['ports']> {
  const ports = await freePorts(brokers * 3)
  return Array.from({ length: brokers }, (_, index) => {
    const [client, controller, expired] = ports.slice(index * 3)
    return { client: client!, controller: controller!, expired: expired! }
  })
}

function makeStores(folder: string): KafkaStores {
  const certificates = makeCertificates(folder)
  const storePassword = password()
  const store = (name: 'server' | 'expired') => {
    const file = join(folder, `${name}.p12`)
    const { certificate, key } = certificates[name]
    const contents = ['-in', certificate, '-inkey', key, '-certfile', certificates.ca, '-name', 'server']
    runTool('openssl', ['pkcs12', '-export', ...contents, '-passout', `pass:${storePassword}`, '-out', file])
    return file
  }
  const serverStore = store('server')
  const authority = ['-alias', 'ca', '-file', certificates.ca]
  const trust = ['-storetype', 'PKCS12', '-keystore', serverStore, '-storepass', storePassword]
  runTool('keytool', ['-importcert', '-noprompt', ...authority, ...trust])
  const users = { [BROKER_USER]: password(), [SERVICE_USER]: password(), [STRANGER]: password() }
  return { users, certificates, serverStore, expiredStore: store('expired'), storePassword }
}

function prepareBroker(number: number, folder: string, clusterId: string, cluster: KafkaCluster) {
  const home = join(folder, String(number))
  mkdirSync(home)
  const settings = join(home, 'server.properties')
  writeFileSync(settings, kafkaSettings(number, home, cluster), { mode: 0o600 })
  const users = Object.entries(cluster.secure?.users ?? {}).flatMap(([name, secret]) => [
    '--add-scram',
    `SCRAM-SHA-512=[name=${name},password=${secret}]`,
  ])
  const java = ['-XX:+UseSerialGC', '-cp', join(jars(), '*'), `-Dlog4j.configuration=file:${HERE('log4j.properties')}`]
  // An id may begin with a hyphen, so it is not left to stand alone.
  const format = ['kafka.tools.StorageTool', 'format', `--cluster-id=${clusterId}`, '-c', settings, ...users]
  // Compiled for a quick start: it runs for a second.
  runTool('java', ['-XX:TieredStopAtLevel=1', ...java, ...format])
  return serverProcess({
    name: `Kafka broker ${number}`,
    command: 'java',
    args: ['-Xms128m', '-Xmx384m', ...java, 'kafka.Kafka', settings],
    logFile: join(home, 'server.log'),
    ready: said => said.includes('Kafka Server started'),
  })
}

function describeSecurity({ certificates, users }: KafkaStores, expiredPort: number): KafkaSecurity {
  return {
    ca: certificates.ca,
    otherCa: certificates.otherCa,
    user: SERVICE_USER,
    password: users[SERVICE_USER]!,
    stranger: { user: STRANGER, password: users[STRANGER]! },
    expired: `127.0.0.1:${expiredPort}`,
  }
}

function login(secure: KafkaSecurity | undefined): Pick<KafkaConfig, 'ssl' | 'sasl'> {
  if (secure === undefined) return {}
  return {
    ssl: { ca: [readFileSync(secure.ca, 'utf8')] },
    sasl: { mechanism: 'scram-sha-512', username: secure.user, password: secure.password },
  }
}

function password(): string {
  return randomBytes(12).toString('hex')
}

function fail(what: string): never {
  throw new Error(what)
}
