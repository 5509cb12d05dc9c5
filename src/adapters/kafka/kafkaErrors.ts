import { sayConnectionError } from '../sayConnectionError.js'
import { LastingError } from './partitionLog.js'

/**
 * One sentence for what the client threw: what is wrong, and the next step where there is one. The client wraps errors
 * in errors and copies their message outward, so the whole chain is looked at.
 * @param tls whether the connection was to be made with TLS
 */
export function sayKafkaError(error: unknown, tls: boolean): string {
  const chain = chainOf(error)
  for (const link of chain) {
    const said = (link.type === undefined ? undefined : BY_TYPE[link.type]) ?? byName(link) ?? bySocket(link, tls)
    if (said !== undefined) return said
  }
  return chain[0]?.error.message ?? 'unknown error'
}

/** The error, marked where trying again cannot help. */
export function lasting(error: unknown): unknown {
  const isLasting = chainOf(error).some(
    ({ type, error: { name } }) =>
      name === 'KafkaJSSASLAuthenticationError' ||
      name === 'KafkaJSNotImplemented' ||
      (type !== undefined && type in BY_TYPE),
  )
  return isLasting ? new LastingError(sayKafkaError(error, false), { cause: error }) : error
}

/** Kafka's own words for what is wrong, such as `UNKNOWN_TOPIC_OR_PARTITION`, the outermost first. */
export function typesOf(error: unknown): readonly string[] {
  return chainOf(error).flatMap(({ type }) => type ?? [])
}

const SIZE = 'the broker refuses records for their size: set max.message.bytes of the topics to 1048588 or more'

const BY_TYPE: Readonly<Record<string, string>> = {
  TOPIC_AUTHORIZATION_FAILED:
    'no permission on a topic: grant Read on the input and the changelog, Write on changelog, events and dead letters',
  GROUP_AUTHORIZATION_FAILED: 'no permission on the consumer group: grant Read on the group',
  TRANSACTIONAL_ID_AUTHORIZATION_FAILED:
    'no permission to write transactions: grant Write on transactional ids that begin with the name of the group',
  CLUSTER_AUTHORIZATION_FAILED: 'no permission on the cluster: grant IdempotentWrite on it',
  UNSUPPORTED_SASL_MECHANISM:
    'the broker does not know this sasl.mechanism: ask which of plain, scram-sha-256 and scram-sha-512 it has',
  MESSAGE_TOO_LARGE: SIZE,
  RECORD_LIST_TOO_LARGE: SIZE,
}

function byName({ error: { name, message } }: Link): string | undefined {
  if (name === 'KafkaJSSASLAuthenticationError')
    return `the broker refuses the login (${message}): check sasl.mechanism, sasl.username and sasl.password`
  if (name === 'KafkaJSNotImplemented')
    return `${message}: only gzip or no compression can be read; set compression.type=gzip on the topic and in whatever writes to it`
  return undefined
}

function bySocket({ error, broker }: Link, tls: boolean): string | undefined {
  const [host, port] = broker?.split(':') ?? []
  if (host === undefined) return undefined
  const target = { host, port: Number(port), tls }
  const said = sayConnectionError(error, target, { withTls: 'tls: {} under kafka', without: 'no tls under kafka' })
  if (said !== undefined) return said
  if (/timeout/i.test(error.message))
    return `${host}:${String(port)} did not answer in time: check the address and port, and the firewalls between`
  // The client gives no code for a connection the broker ended: it may have wanted TLS, or a login first.
  if (/closed/i.test(error.message))
    return `${host}:${String(port)} closed the connection: it may want tls or a login; check tls and sasl under kafka`
  return undefined
}

interface Link {
  readonly error: Error
  /** Kafka's own word for what is wrong. */
  readonly type: string | undefined
  /** `host:port` */
  readonly broker: string | undefined
}

const LONGEST_CHAIN = 10

function chainOf(error: unknown): readonly Link[] {
  const links: Link[] = []
  let current: unknown = error
  while (current instanceof Error && links.length < LONGEST_CHAIN) {
    const { type, broker, errors } = current as Error & {
      type?: unknown
      broker?: unknown
      errors?: readonly unknown[]
    }
    links.push({
      error: current,
      type: typeof type === 'string' ? type : undefined,
      broker: typeof broker === 'string' ? broker : undefined,
    })
    current = current.cause ?? errors?.[0]
  }
  return links
}
