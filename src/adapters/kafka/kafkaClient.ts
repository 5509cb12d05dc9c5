import { Kafka, type KafkaConfig, type LogEntry, logLevel, type SASLOptions } from 'kafkajs'
import type { Logger } from 'pino'
import type { KafkaConnection } from '../connectionsFile.js'

/** A client of the brokers a connection names. Nothing is connected yet. */
export function kafkaClient(connection: KafkaConnection, log: Logger): Kafka {
  return new Kafka({
    clientId: connection.clientId,
    brokers: [...connection.brokers],
    ...securityOf(connection),
    connectionTimeout: CONNECTION_TIMEOUT_MS,
    // A leader takes a second or two to change; with the client's five tries of 300 ms each such change is an error.
    retry: { initialRetryTime: 100, maxRetryTime: 2_000, retries: 8 },
    logLevel: logLevel.INFO,
    logCreator: () => entry => tellKafkaLog(log, entry),
  })
}

const CONNECTION_TIMEOUT_MS = 5_000

function securityOf({ sasl, tls }: KafkaConnection): Pick<KafkaConfig, 'ssl' | 'sasl'> {
  return {
    ...(tls === undefined
      ? {}
      : {
          ssl: {
            ...(tls.ca === undefined ? {} : { ca: [tls.ca] }),
            ...(tls.cert === undefined ? {} : { cert: tls.cert }),
            ...(tls.key === undefined ? {} : { key: tls.key.reveal() }),
          },
        }),
    ...(sasl === undefined
      ? {}
      : {
          sasl: { mechanism: sasl.mechanism, username: sasl.username, password: sasl.password.reveal() } as SASLOptions,
        }),
  }
}

/**
 * The client's own lines, most of which tell of what it tries again: they are for whoever looks for the cause, at
 * level debug. What it gives up comes to us as an error and is logged where it is dealt with.
 */
export function tellKafkaLog(log: Logger, { namespace, level, log: content }: LogEntry): void {
  const { message, timestamp: _timestamp, logger: _logger, stack: _stack, ...fields } = content
  const line = { ...fields, kafka: namespace, said: message }
  if (level === logLevel.ERROR && content.retriable === false) log.warn(line, 'The Kafka client reports an error')
  else log.debug(line, 'Said by the Kafka client')
}
