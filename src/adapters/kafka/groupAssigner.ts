import { Buffer } from 'node:buffer'
import { AssignerProtocol, type PartitionAssigner } from 'kafkajs'
import { dealPartitions } from './stickyAssignment.js'

/**
 * Deals partition p of all topics to one member together, for a plant's messages may come by two of them and its
 * state is in one place; and leaves partitions where they are as far as it can.
 * @param held the partitions this member holds at the moment
 */
export function groupAssigner(held: () => readonly number[]): PartitionAssigner {
  return ({ cluster }) => ({
    name: NAME,
    version: VERSION,
    protocol: ({ topics }) => ({
      name: NAME,
      metadata: AssignerProtocol.MemberMetadata.encode({
        version: VERSION,
        topics,
        userData: Buffer.from(JSON.stringify(held())),
      }),
    }),
    assign: async ({ members, topics }) => {
      const claimants = members.map(({ memberId, memberMetadata }) => ({
        memberId,
        held: readHeld(AssignerProtocol.MemberMetadata.decode(memberMetadata)?.userData),
      }))
      const counts = topics.map(topic => cluster.findTopicPartitionMetadata(topic).length)
      const dealt = dealPartitions(claimants, Math.min(...counts))
      return members.map(({ memberId }) => ({
        memberId,
        memberAssignment: AssignerProtocol.MemberAssignment.encode({
          version: VERSION,
          assignment: Object.fromEntries(topics.map(topic => [topic, dealt.get(memberId) ?? []])),
          userData: Buffer.alloc(0),
        }),
      }))
    },
  })
}

const NAME = 'turbidrift-together'
const VERSION = 1

/** What another member says of itself; one that says nothing readable holds nothing. */
function readHeld(userData: Buffer | undefined): number[] {
  try {
    const held: unknown = JSON.parse(userData?.toString('utf8') ?? '[]')
    return Array.isArray(held) ? held.filter((one): one is number => Number.isSafeInteger(one) && one >= 0) : []
  } catch {
    return []
  }
}
