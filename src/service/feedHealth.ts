import type { FeedState } from '../model/serviceStatus.js'
import { MINUTE_MS } from '../model/time.js'

/** Age up to which a message counts as fresh: the lateness a reading may have and some. */
const FRESH_MS = 5 * MINUTE_MS
/** A connected feed that sends nothing at all is not catching up for ever. */
const CATCHING_UP_MS = 10 * MINUTE_MS

interface FeedMemory {
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
  readonly states: (atMs: number) => Readonly<Record<string, FeedState>>
}

/**
 * Knows which feeds from brokers of the plant are live: each is down until it says that it is connected. The embedded
 * broker listens whenever the service runs, and nobody being connected to it says nothing: its feeds are not among them.
 * Pure but for its own memory.
 */
export function createFeedHealth(feeds: readonly string[]): FeedHealth {
  const memories = new Map<string, FeedMemory>(
    [...feeds].sort().map(feed => [feed, { connected: false, backSinceMs: undefined }]),
  )
  return {
    connected: (feed, atMs) => {
      const memory = memories.get(feed)
      if (memory === undefined || memory.connected) return
      memory.connected = true
      memory.backSinceMs = atMs
    },
    disconnected: feed => {
      const memory = memories.get(feed)
      if (memory !== undefined) memory.connected = false
    },
    heard: (feed, messageMs, atMs) => {
      const memory = memories.get(feed)
      if (memory !== undefined && atMs - messageMs <= FRESH_MS) memory.backSinceMs = undefined
    },
    notLive: atMs => [...memories].filter(([, memory]) => stateOf(memory, atMs) !== 'connected').map(([feed]) => feed),
    states: atMs => Object.fromEntries([...memories].map(([feed, memory]) => [feed, stateOf(memory, atMs)])),
  }
}

function stateOf({ connected, backSinceMs }: FeedMemory, atMs: number): FeedState {
  if (!connected) return 'disconnected'
  return backSinceMs !== undefined && atMs - backSinceMs < CATCHING_UP_MS ? 'catching_up' : 'connected'
}
