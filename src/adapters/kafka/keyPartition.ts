import { Partitioners } from 'kafkajs'

/**
 * The partition a key belongs in: murmur2, as the Java client's and our own writers choose it.
 * @param partitions how many the topic has
 */
export function keyPartition(key: string, partitions: number): number {
  const partitionMetadata = Array.from({ length: partitions }, (_, partitionId) => ({ ...ANY, partitionId }))
  return partitioner({ topic: '', partitionMetadata, message: { key, value: null } })
}

const ANY = { partitionErrorCode: 0, leader: 0, replicas: [], isr: [] }
const partitioner = Partitioners.DefaultPartitioner()
