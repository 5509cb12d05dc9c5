/** When a sink that takes nothing is parked. */
export interface ParkLimits {
  readonly parkAfterMs: number
  readonly parkAfterEvents: number
}

/** A parked sink is tried so often: a receiver that is back has everything within minutes. */
export const PROBE_MS = 600_000

/** Many events wait for a moment whenever a long record is caught up with; that is no reason. */
const STALLED_MS = 600_000

/**
 * Why a sink is to be parked; undefined while it is not. Either limit parks by itself: nothing taken for
 * `parkAfterMs` although something waited, or nothing taken for ten minutes with more than `parkAfterEvents` waiting.
 * @param stalledMs how long something has waited and nothing was taken, since the start of the service at most
 */
export function parkReason(stalledMs: number, waiting: number, limits: ParkLimits): string | undefined {
  if (stalledMs >= limits.parkAfterMs) return `it took nothing for ${hours(limits.parkAfterMs)}`
  if (stalledMs >= STALLED_MS && waiting > limits.parkAfterEvents) {
    return `it takes nothing and more than ${limits.parkAfterEvents} events wait`
  }
  return undefined
}

function hours(ms: number): string {
  return `${Math.round(ms / 36_000) / 100} h`
}
