/** A member of the group, and the partitions it held when it asked to join. */
export interface Claimant {
  readonly memberId: string
  readonly held: readonly number[]
}

/**
 * Deals partitions so that counts differ by one at most and each member keeps as much of what it holds as that allows:
 * a partition that moves has to be restored elsewhere. Partition p stands for partition p of every topic.
 * The order of the claimants makes no difference.
 */
export function dealPartitions(claimants: readonly Claimant[], partitions: number): Map<string, number[]> {
  const members = [...claimants].sort((a, b) => (a.memberId < b.memberId ? -1 : 1))
  const dealt = new Map<string, number[]>(members.map(({ memberId }) => [memberId, []]))
  if (members.length === 0) return dealt
  const least = Math.floor(partitions / members.length)
  let withOneMore = partitions % members.length
  const free = new Set(Array.from({ length: partitions }, (_, partition) => partition))
  const give = (memberId: string, partition: number) => {
    dealt.get(memberId)!.push(partition)
    free.delete(partition)
  }
  // Those who hold most keep one more where one more is to be had.
  for (const { memberId, held } of [...members].sort((a, b) => b.held.length - a.held.length)) {
    const own = [...new Set(held)].filter(partition => free.has(partition)).sort((a, b) => a - b)
    const share = own.length > least && withOneMore > 0 ? least + 1 : least
    if (share > least) withOneMore--
    for (const partition of own.slice(0, share)) give(memberId, partition)
  }
  for (const share of [least, least + 1]) {
    for (const { memberId } of members) {
      for (const partition of free) {
        if (dealt.get(memberId)!.length >= share) break
        give(memberId, partition)
      }
    }
  }
  for (const list of dealt.values()) list.sort((a, b) => a - b)
  return dealt
}
