import { MINUTE_MS } from '../model/time.js'

/** Age up to which a message counts as fresh: the lateness a reading may have and some. */
const FRESH_MS = 5 * MINUTE_MS
/** A connected feed that sends nothing at all is not catching up for ever. */
const CATCHING_UP_MS = 10 * MINUTE_MS

interface FeedState {
  connected: boolean
  /** When it last came back; undefined once it has delivered something fresh since. */
  backSinceMs: number | undefined
}

export interface FeedHealth {
  readonly connected: (feed: string, atMs: number) => void
  readonly disconnected: (feed: string) => void
  /** @param messageMs the time in the message itself */
  readonly heard: (feed: string, messageMs: number, atMs: number) => void
  /** Feeds whose analyzers cannot be called silent: down, or still delivering what waited. In order of their names. */
  readonly notLive: (atMs: number) => readonly string[]
}

/**
 * Knows which feeds from brokers of the plant are live: each is down until it says that it is connected. The embedded
 * broker listens whenever the service runs, and nobody being connected to it says nothing: its feeds are not among them.
 * Pure but for its own memory.
 */
export function createFeedHealth(feeds: readonly string[]): FeedHealth {
  const states = new Map<string, FeedState>(
    [...feeds].sort().map(feed => [feed, { connected: false, backSinceMs: undefined }]),
  )
  return {
    connected: (feed, atMs) => {
      const state = states.get(feed)
      if (state === undefined || state.connected) return
      state.connected = true
      state.backSinceMs = atMs
    },
    disconnected: feed => {
      const state = states.get(feed)
      if (state !== undefined) state.connected = false
    },
    heard: (feed, messageMs, atMs) => {
      const state = states.get(feed)
      if (state !== undefined && atMs - messageMs <= FRESH_MS) state.backSinceMs = undefined
    },
    notLive: atMs =>
      [...states]
        .filter(([, state]) => {
          const catchingUp = state.backSinceMs !== undefined && atMs - state.backSinceMs < CATCHING_UP_MS
          return !state.connected || catchingUp
        })
        .map(([feed]) => feed),
  }
}
