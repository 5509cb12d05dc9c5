import type { Neighbours } from './wallClock.js'

/** Rows looked at before a file that runs newest first is known as one. */
const ORDER_ROWS = 50
/** More analyzers than any plant has; beyond it only the doubled hour stays undecided. */
const MAX_SERIES = 10_000

export interface Order {
  readonly around: (series: string) => Neighbours
  readonly came: (series: string, atMs: number) => void
  readonly backwards: () => boolean
}

/** Remembers the last times of each series, and which way the file runs. */
export function createOrder(): Order {
  const last = new Map<string, { previousMs: number; direction: 'up' | 'down' }>()
  let rows = 0
  let down = 0
  return {
    around: series => last.get(series) ?? { previousMs: undefined, direction: 'up' },
    came: (series, atMs) => {
      const before = last.get(series)
      if (before === undefined) {
        if (last.size < MAX_SERIES) last.set(series, { previousMs: atMs, direction: 'up' })
        return
      }
      if (rows < ORDER_ROWS && atMs !== before.previousMs) {
        rows += 1
        if (atMs < before.previousMs) down += 1
      }
      before.direction = atMs < before.previousMs ? 'down' : 'up'
      before.previousMs = atMs
    },
    backwards: () => rows === ORDER_ROWS && down > ORDER_ROWS * 0.9,
  }
}
