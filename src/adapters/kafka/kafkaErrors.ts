import { LastingError } from './partitionLog.js'

/**
 * One sentence for what the client threw: what is wrong, and the next step where there is one. The client wraps errors
 * in errors and copies their message outward, so the whole chain is looked at.
 */
export function sayKafkaError(error: unknown): string {
  const chain = chainOf(error)
  for (const one of chain) {
    const said = one.type === undefined ? undefined : BY_TYPE[one.type]
    if (said !== undefined) return said
    if (one.name === 'KafkaJSSASLAuthenticationError')
      return `the broker refuses the login (${one.message}): check sasl.mechanism, sasl.username and sasl.password`
    if (one.name === 'KafkaJSNotImplemented')
      return `${one.message}: only gzip or no compression can be read; set compression.type=gzip on the topic and in whatever writes to it`
    for (const [pattern, sentence] of BY_MESSAGE) if (pattern.test(one.message)) return sentence
  }
  return chain[0]?.message ?? 'unknown error'
}

/** The error, marked where trying again cannot help. */
export function lasting(error: unknown): unknown {
  const isLasting = chainOf(error).some(
    ({ name, type }) =>
      name === 'KafkaJSSASLAuthenticationError' || name === 'KafkaJSNotImplemented' || isRefusal(type),
  )
  return isLasting ? new LastingError(sayKafkaError(error), { cause: error }) : error
}

function isRefusal(type: string | undefined): boolean {
  return type?.endsWith('_AUTHORIZATION_FAILED') ?? false
}

const BY_TYPE: Readonly<Record<string, string>> = {
  TOPIC_AUTHORIZATION_FAILED:
    'no permission on a topic: grant Describe and Read on what is read, Write on what is written',
  GROUP_AUTHORIZATION_FAILED: 'no permission on the consumer group: grant Read on the group',
  TRANSACTIONAL_ID_AUTHORIZATION_FAILED:
    'no permission to write transactions: grant Write and Describe on transactional ids that begin with the name of the group',
  CLUSTER_AUTHORIZATION_FAILED: 'no permission on the cluster: grant IdempotentWrite and Describe on it',
  UNSUPPORTED_SASL_MECHANISM:
    'the broker does not know this sasl.mechanism: ask which of plain, scram-sha-256 and scram-sha-512 it has',
  MESSAGE_TOO_LARGE: 'the broker refuses a record for its size: set max.message.bytes of the topic to 1048588 or more',
  RECORD_LIST_TOO_LARGE:
    'the broker refuses records for their size: set max.message.bytes of the topic to 1048588 or more',
}

const BY_MESSAGE: readonly (readonly [RegExp, string])[] = [
  [
    /self-signed certificate|unable to (get|verify)|UNABLE_TO/i,
    'the certificate of the broker is not signed by the authority in tls.ca',
  ],
  [/certificate has expired|CERT_HAS_EXPIRED/i, 'the certificate of the broker has expired: renew it there'],
  [
    /altnames|ALTNAME/i,
    'the certificate of the broker names another host: write the host in brokers as the certificate has it',
  ],
  [
    /alert (bad certificate|certificate required|unknown ca)/i,
    'the broker refuses our certificate: check tls.cert and tls.key',
  ],
  [
    /wrong version number|packet length too long|EPROTO/i,
    'the broker does not speak TLS on this port: remove tls, or use its other port',
  ],
  [/ECONNREFUSED/, 'nobody listens there: check host and port, and whether the broker runs'],
  [
    /ENOTFOUND|EAI_AGAIN/,
    'the name of the broker is not known here: check brokers, and the names the brokers advertise',
  ],
  [
    /Connection timeout|ETIMEDOUT|EHOSTUNREACH/,
    'the broker does not answer: check host and port, and firewalls between',
  ],
  [
    /Closed connection|Connection closed|socket hang up|ECONNRESET/i,
    'the broker closes the connection: it may want TLS or a login; check tls and sasl',
  ],
]

interface Link {
  readonly name: string
  readonly message: string
  readonly type: string | undefined
}

const LONGEST_CHAIN = 10

function chainOf(error: unknown): readonly Link[] {
  const links: Link[] = []
  let current: unknown = error
  while (current instanceof Error && links.length < LONGEST_CHAIN) {
    const { type, errors } = current as Error & { type?: unknown; errors?: readonly unknown[] }
    links.push({ name: current.name, message: current.message, type: typeof type === 'string' ? type : undefined })
    current = current.cause ?? errors?.[0]
  }
  return links
}
