import { describe, expect, it } from 'vitest'
import { keyPartition } from '../../../src/adapters/kafka/keyPartition.js'

describe('the partition of a key', () => {
  // Hashes: Apache Kafka, clients/src/test/java/org/apache/kafka/common/utils/UtilsTest.java, testMurmur2; the Java
  // client takes the hash without its sign bit modulo the number of partitions (BuiltInPartitioner.partitionForKey).
  it.each([
    ['21', -973_932_308],
    ['foobar', -790_332_482],
    ['a-little-bit-long-string', -985_981_536],
    ['a-little-bit-longer-string', -1_486_304_829],
    ['lkjh234lh9fiuh90y23oiuhsafujhadof229phr9h19h89h8', -58_897_971],
    ['abc', 479_470_107],
  ])('of %s is the one the Java client chooses', (key, hash) => {
    for (const partitions of [1, 2, 4, 12, 100])
      expect(keyPartition(key, partitions)).toBe((hash & 0x7fffffff) % partitions)
  })
})
