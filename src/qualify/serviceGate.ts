import type { ProcessState } from '../model/messages.js'
import { HOUR_MS } from '../model/time.js'
import { BLOCK_MS } from './openBlock.js'

/** Whether the water at a point is the water that is meant: blocks count in service and from an hour after its begin. */
export interface ServiceState {
  /** Null until the plant has sent a process state: then every block counts, and `explain` says so. */
  state: ProcessState['state'] | null
  sinceMs: number
}

const AFTER_START_MS = HOUR_MS

export function newServiceState(): ServiceState {
  return { state: null, sinceMs: 0 }
}

/** Takes the process states of a block, in order. @returns whether the block that ends at `endMs` counts */
export function advanceService(service: ServiceState, changes: readonly ProcessState[], endMs: number): boolean {
  let outside = isOutside(service)
  for (const change of changes) {
    if (change.state === service.state) continue
    // The first message tells what has been so, not that it began.
    if (service.state !== null || change.state !== 'in_service') service.sinceMs = change.atMs
    service.state = change.state
    outside ||= isOutside(service)
  }
  if (outside || service.state === null) return !outside
  return endMs - BLOCK_MS >= service.sinceMs + (service.sinceMs === 0 ? 0 : AFTER_START_MS)
}

function isOutside(service: ServiceState): boolean {
  return service.state !== null && service.state !== 'in_service'
}
