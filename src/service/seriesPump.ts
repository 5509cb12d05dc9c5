import type { SeriesQueue } from '../adapters/sqliteSeries.js'
import type { SeriesPoint } from '../core/series.js'

export interface SeriesPumpOptions {
  readonly queue: SeriesQueue
  /** Rejects where the same points are to be handed over again. */
  readonly write: (points: readonly SeriesPoint[]) => Promise<Written>
  readonly schedule: (afterMs: number, run: () => void) => () => void
  readonly news: (news: SeriesNews) => void
}

interface Written {
  readonly refused: number
  readonly because: string | undefined
}

export type SeriesNews =
  /** Told again only when the problem is another one. */
  | { readonly state: 'failing'; readonly problem: string }
  | { readonly state: 'writing' }
  | { readonly state: 'refused'; readonly points: number; readonly because: string }
  | { readonly state: 'dropped'; readonly points: number }

export interface SeriesPump {
  /** There may be new points. */
  readonly wake: () => void
  /** True when nothing waits. */
  readonly drained: () => boolean
  /** Lets the points in hand be written until the deadline; what is left is written after the next start. */
  readonly stop: (deadlineMs: number) => Promise<void>
}

/** Points in one request: small enough that making its text holds up nothing else. */
const MOST = 2_000
const FIRST_RETRY_MS = 1_000
const LAST_RETRY_MS = 60_000

/**
 * Takes points out of the queue to the database of dashboards, oldest first, at its own pace. They leave the queue when
 * the database has them, so after a crash some are written twice, which makes them no more.
 */
export function startSeriesPump({ queue, write, schedule, news }: SeriesPumpOptions): SeriesPump {
  let state: 'idle' | 'busy' | 'waiting' = 'idle'
  let isEnded = false
  let isClosed = false
  let retryMs = FIRST_RETRY_MS
  let problem: string | undefined
  let dropped = queue.counts().dropped
  let cancelRetry = (): void => {}
  const onRest: (() => void)[] = []

  const rest = (next: 'idle' | 'waiting') => {
    state = next
    for (const resolve of onRest.splice(0)) resolve()
  }

  const settled = (seq: number, { refused, because }: Written) => {
    if (isClosed) return
    retryMs = FIRST_RETRY_MS
    if (problem !== undefined) news({ state: 'writing' })
    problem = undefined
    if (refused > 0) news({ state: 'refused', points: refused, because: because ?? '' })
    queue.settle(seq, refused)
    if (isEnded) rest('idle')
    else schedule(0, next)
  }

  const failed = (error: unknown) => {
    if (isClosed) return
    const said = error instanceof Error ? error.message : String(error)
    if (said !== problem) news({ state: 'failing', problem: said })
    problem = said
    rest('waiting')
    if (isEnded) return
    cancelRetry = schedule(retryMs, next)
    retryMs = Math.min(LAST_RETRY_MS, retryMs * 2)
  }

  function next(): void {
    if (isEnded) {
      rest('idle')
      return
    }
    state = 'busy'
    try {
      const taken = queue.oldest(MOST)
      if (taken === undefined) {
        rest('idle')
        return
      }
      write(taken.points)
        .then(written => settled(taken.seq, written))
        .catch(failed)
    } catch (error) {
      failed(error)
    }
  }

  next()
  return {
    wake: () => {
      const { dropped: now } = queue.counts()
      if (now > dropped) news({ state: 'dropped', points: now - dropped })
      dropped = now
      if (state === 'idle' && !isEnded) next()
    },
    drained: () => state === 'idle' && queue.counts().waiting === 0,
    stop: async deadlineMs => {
      isEnded = true
      cancelRetry()
      if (state === 'busy') {
        await new Promise<void>(resolve => {
          const cancel = schedule(deadlineMs, resolve)
          onRest.push(() => {
            cancel()
            resolve()
          })
        })
      }
      isClosed = true
    },
  }
}
