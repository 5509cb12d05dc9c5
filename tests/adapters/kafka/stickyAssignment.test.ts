import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { dealPartitions } from '../../../src/adapters/kafka/stickyAssignment.js'

describe('dealing partitions', () => {
  const claimants = fc
    .uniqueArray(fc.string({ minLength: 1, maxLength: 4 }), { minLength: 1, maxLength: 6 })
    .chain(ids =>
      fc.tuple(
        ...ids.map(memberId =>
          fc.record({ memberId: fc.constant(memberId), held: fc.array(fc.nat({ max: 14 }), { maxLength: 8 }) }),
        ),
      ),
    )

  it('gives each partition to one member, evenly, whatever order members come in', () => {
    fc.assert(
      fc.property(claimants, fc.nat({ max: 12 }), (members, partitions) => {
        const dealt = dealPartitions(members, partitions)
        const all = [...dealt.values()].flat().sort((a, b) => a - b)
        expect(all).toEqual(Array.from({ length: partitions }, (_, partition) => partition))
        const counts = [...dealt.values()].map(list => list.length)
        expect(Math.max(...counts) - Math.min(...counts)).toBeLessThanOrEqual(1)
        expect(dealPartitions([...members].reverse(), partitions)).toEqual(dealt)
      }),
      { seed: 7 },
    )
  })

  it('leaves a group that is even as it is', () => {
    const members = [
      { memberId: 'b', held: [0, 3, 4] },
      { memberId: 'a', held: [1, 2] },
    ]
    expect(dealPartitions(members, 5)).toEqual(
      new Map([
        ['a', [1, 2]],
        ['b', [0, 3, 4]],
      ]),
    )
  })

  it('takes from those who have too many just what a newcomer needs', () => {
    const members = [
      { memberId: 'a', held: [0, 1, 2] },
      { memberId: 'b', held: [3, 4, 5] },
      { memberId: 'c', held: [] },
    ]
    const dealt = dealPartitions(members, 6)
    expect(dealt.get('a')).toEqual([0, 1])
    expect(dealt.get('b')).toEqual([3, 4])
    expect(dealt.get('c')).toEqual([2, 5])
  })
})
