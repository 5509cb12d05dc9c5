import { describe, expect, it } from 'vitest'
import type { ProcessState } from '../../src/model/messages.js'
import { HOUR_MS } from '../../src/model/time.js'
import { BLOCK_MS } from '../../src/qualify/openBlock.js'
import { advanceService, newServiceState } from '../../src/qualify/serviceGate.js'
import { processState, START_MS } from '../model/plantFixture.js'

const at = (hours: number) => START_MS + hours * HOUR_MS

/** @returns hours at whose end a block counts */
function counting(changes: readonly ProcessState[], hours: number): number[] {
  const service = newServiceState()
  const found: number[] = []
  for (let endMs = START_MS + BLOCK_MS; endMs <= at(hours); endMs += BLOCK_MS) {
    const own = changes.filter(change => change.atMs >= endMs - BLOCK_MS && change.atMs < endMs)
    if (advanceService(service, own, endMs)) found.push((endMs - START_MS) / HOUR_MS)
  }
  return found
}

describe('the service gate', () => {
  it('lets every block count while the plant sends no states', () => {
    expect(counting([], 6)).toHaveLength(24)
  })

  it('takes the first "in service" as how it has been', () => {
    expect(counting([processState(at(2), 'in_service')], 6)).toHaveLength(24)
  })

  it.each(['backwash', 'to_waste', 'off_line'] as const)('counts nothing in %s nor within an hour after', state => {
    const found = counting([processState(at(2), state), processState(at(3), 'in_service')], 8)
    expect(found.find(hour => hour > 2)).toBe(4.25)
    expect(found.filter(hour => hour <= 2)).toHaveLength(8)
  })

  it('leaves out a block that was outside for a part only', () => {
    const found = counting([processState(at(2.05), 'backwash'), processState(at(2.2), 'in_service')], 8)
    expect(found.find(hour => hour > 2)).toBe(3.5)
  })

  it('a repeated state does not begin the hour anew', () => {
    const found = counting(
      [processState(at(1), 'backwash'), processState(at(2), 'in_service'), processState(at(2.9), 'in_service')],
      8,
    )
    expect(found.find(hour => hour > 1)).toBe(3.25)
  })

  it('goes from backwash to waste to service: the hour runs from service', () => {
    const found = counting(
      [processState(at(1), 'backwash'), processState(at(1.3), 'to_waste'), processState(at(2), 'in_service')],
      8,
    )
    expect(found.find(hour => hour > 1)).toBe(3.25)
  })
})
