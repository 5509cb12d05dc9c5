import { join } from 'node:path'
import type { Certificates } from './certificates.js'

export interface KafkaCluster {
  /** Ports of each broker, in the order of their numbers. */
  readonly ports: readonly BrokerPorts[]
  readonly secure: KafkaStores | undefined
}

export interface BrokerPorts {
  readonly client: number
  readonly controller: number
  /** Clients, with an expired certificate. */
  readonly expired: number
}

/** Users with their passwords, and the key stores of both listeners, protected by `storePassword`. */
export interface KafkaStores {
  readonly users: Readonly<Record<string, string>>
  readonly certificates: Certificates
  readonly serverStore: string
  readonly expiredStore: string
  readonly storePassword: string
}

/** Users to whom no access rule applies; brokers log in to each other as the first. */
export const BROKER_USER = 'broker'
export const SERVICE_USER = 'service'
/** May log in, and nothing more. */
export const STRANGER = 'stranger'

/** `server.properties` of broker `number` (from 1), which is a controller as well. */
export function kafkaSettings(number: number, dataFolder: string, { ports, secure }: KafkaCluster): string {
  const own = ports[number - 1]!
  const brokers = ports.length
  const replicas = Math.min(brokers, 3)
  const inSync = brokers > 1 ? 2 : 1
  const protocol = secure === undefined ? 'PLAINTEXT' : 'SASL_SSL'
  const listeners = [`CLIENT://127.0.0.1:${own.client}`, ...(secure ? [`EXPIRED://127.0.0.1:${own.expired}`] : [])]
  return `process.roles=broker,controller
node.id=${number}
controller.quorum.voters=${ports.map(({ controller }, index) => `${index + 1}@127.0.0.1:${controller}`).join()}
listeners=${[...listeners, `CONTROLLER://127.0.0.1:${own.controller}`].join()}
advertised.listeners=${listeners.join()}
listener.security.protocol.map=CLIENT:${protocol},EXPIRED:${protocol},CONTROLLER:PLAINTEXT
controller.listener.names=CONTROLLER
inter.broker.listener.name=CLIENT
log.dirs=${join(dataFolder, 'data')}
auto.create.topics.enable=false
num.partitions=4
default.replication.factor=${replicas}
min.insync.replicas=${inSync}
offsets.topic.replication.factor=${replicas}
offsets.topic.num.partitions=8
transaction.state.log.replication.factor=${replicas}
transaction.state.log.min.isr=${inSync}
transaction.state.log.num.partitions=8
# Without it each first member of a group waits three seconds for others.
group.initial.rebalance.delay.ms=0
log.cleaner.backoff.ms=1000
log.cleaner.dedupe.buffer.size=16777216
# A killed broker is taken for dead, and may come back, after so long.
broker.session.timeout.ms=6000
${secure === undefined ? '' : securitySettings(secure)}`
}

function securitySettings({ serverStore, expiredStore, storePassword, users }: KafkaStores): string {
  const login = `org.apache.kafka.common.security.scram.ScramLoginModule required username="${BROKER_USER}" password="${users[BROKER_USER]!}";`
  return `ssl.keystore.type=PKCS12
ssl.keystore.location=${serverStore}
ssl.keystore.password=${storePassword}
listener.name.expired.ssl.keystore.location=${expiredStore}
ssl.truststore.type=PKCS12
ssl.truststore.location=${serverStore}
ssl.truststore.password=${storePassword}
sasl.enabled.mechanisms=SCRAM-SHA-512
sasl.mechanism.inter.broker.protocol=SCRAM-SHA-512
listener.name.client.scram-sha-512.sasl.jaas.config=${login}
listener.name.expired.scram-sha-512.sasl.jaas.config=${login}
authorizer.class.name=org.apache.kafka.metadata.authorizer.StandardAuthorizer
# Controllers talk to each other without a name, on a listener of their own.
super.users=User:ANONYMOUS;User:${BROKER_USER};User:${SERVICE_USER}
`
}
