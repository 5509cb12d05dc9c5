import { type Kafka, Partitioners, type Producer } from 'kafkajs'
import { lasting } from './kafkaErrors.js'
import type { OutRecord } from './partitionLog.js'
import { produceRequests } from './produceRequests.js'

export interface RecordSender {
  /** Resolves when all replicas in sync have all of them. After a throw some may be there: send them again. */
  readonly send: (records: readonly OutRecord[]) => Promise<void>
  readonly close: () => Promise<void>
}

/** Writes outside transactions. A producer that failed may be out of step with the broker: it is thrown away. */
export function recordSender(kafka: Kafka): RecordSender {
  let producer: Producer | undefined
  const drop = async (): Promise<void> => {
    const dropped = producer
    producer = undefined
    await dropped?.disconnect().catch(() => {})
  }
  return {
    send: async records => {
      try {
        if (producer === undefined) {
          producer = kafka.producer({
            idempotent: true,
            maxInFlightRequests: 1,
            allowAutoTopicCreation: false,
            createPartitioner: Partitioners.DefaultPartitioner,
            retry: { initialRetryTime: 50, maxRetryTime: 1_000, retries: 8 },
          })
          await producer.connect()
        }
        for (const { messages } of produceRequests(records)) await producer.send({ acks: -1, ...messages })
      } catch (error) {
        await drop()
        throw lasting(error)
      }
    },
    close: drop,
  }
}
