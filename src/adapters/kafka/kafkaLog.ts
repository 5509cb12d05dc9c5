import type { Kafka } from 'kafkajs'
import { openCommittedReader } from './committedReader.js'
import type { PartitionLog } from './partitionLog.js'
import { openTransactionWriter } from './transactionWriter.js'

/** The log of a Kafka cluster. */
export async function openKafkaLog(kafka: Kafka): Promise<PartitionLog & { readonly close: () => Promise<void> }> {
  const reader = await openCommittedReader(kafka)
  return { ...reader, openWriter: id => openTransactionWriter(kafka, id) }
}
