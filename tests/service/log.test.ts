import { expect, it } from 'vitest'
import { sparingly } from '../../src/service/log.js'

it('tells of a flood the first at once, then its number and the last of it once a minute', () => {
  let nowMs = 0
  const told: [number, string][] = []
  const heard = sparingly<string>(
    () => nowMs,
    (count, last) => told.push([count, last]),
  )
  heard('a')
  heard('b', 500)
  nowMs = 59_999
  heard('c')
  expect(told).toEqual([[1, 'a']])
  nowMs = 60_000
  heard('d', 2)
  expect(told).toEqual([
    [1, 'a'],
    [503, 'd'],
  ])
})

it('is not silenced by a clock that is set back', () => {
  let nowMs = 7_200_000
  const told: number[] = []
  const heard = sparingly(
    () => nowMs,
    count => told.push(count),
  )
  heard()
  nowMs = 3_600_000
  heard()
  expect(told).toEqual([1, 1])
})
